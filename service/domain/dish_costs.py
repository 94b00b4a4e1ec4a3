"""One cost (material, labour, what is known at least) of a row of dishes as floats with their bounds, and what settles
those that floats do not decide.

Rules that always hold: each cost is rounded once, from the exact one (settled by bound, by denominator or exactly);
unknown is NaN, and is not zero.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from service.domain.channel import SLACK, UNIT
from service.domain.decimal_column import DecimalColumn
from service.domain.denominators import Floats, Whole, of_product
from service.domain.menu_terms import COST_SCALE, FOOD_COST, HALF_AWAY, OWN_ROUNDINGS, spacing
from service.domain.rounding import UNIT_COST_PLACES
from service.domain.settle import Mask, nearest_whole, rounded
from service.domain.sweep import SweptFigures

FITS = 2**63
TIMES = float(COST_SCALE)
Rows = NDArray[np.intp]


@dataclass(frozen=True)
class DishCosts:
    """A cost of every dish of a row of them.

    Shape:   arrays by row: the floats, and K and n of their bounds (see `channel`). `denominators` says what those of
             the costs in some rows divide, `exact` gives one exactly; both are asked only for what lies near a tie.
    """

    values: Floats
    roundings: Floats
    negative: Floats
    in_range: bool
    denominators: Callable[[Rows], Whole]
    exact: Callable[[int], Fraction]


def food_costs_of(figures: SweptFigures) -> DishCosts:
    """The food cost of every dish of a sweep."""
    compiled, at = figures.compiled, figures.compiled.dishes
    return DishCosts(
        figures.of_dishes(), compiled.material.roundings[at], compiled.material.negative[at], figures.in_range,
        lambda rows: compiled.material_denominators.of(figures.prices.denominators, at.start + rows),
        lambda row: figures.exact(int(compiled.shape.order[at.start + row])))


def settled(costs: DishCosts) -> DecimalColumn:
    """The costs at 4 decimals."""
    x = costs.values * TIMES
    unit = (costs.roundings + OWN_ROUNDINGS) * (UNIT * SLACK)
    bound = unit * (np.abs(x) + 2 * TIMES * costs.negative)
    known = x == x
    result, undecided = rounded(x, bound, lambda near: _spacing(costs.denominators(near)), HALF_AWAY[FOOD_COST])
    if not costs.in_range:
        undecided = np.flatnonzero(known)
    whole = integers(result, known)
    large: dict[int, int] = {}
    for row in undecided.tolist():
        put(whole, large, row, nearest_whole(COST_SCALE * costs.exact(row)))
    return DecimalColumn(whole, known, UNIT_COST_PLACES, large)


def _spacing(denominators: Whole) -> Floats:
    """How near two costs at 4 decimals can lie."""
    return spacing(of_product(np.full_like(denominators, int(COST_SCALE)), np.ones_like(denominators), denominators))


def integers(figures: Floats, known: Mask) -> Whole:
    """Rounded floats as integers; what is unknown is 0, what passes 64 bits is settled and put in its place later."""
    with np.errstate(invalid="ignore"):
        whole: NDArray[np.int64] = figures.astype(np.int64)
    if not known.all():
        whole[~known] = 0
    return whole


def put(whole: Whole, large: dict[int, int], at: int, value: int) -> None:
    """Put a whole number in its place, or beside where it passes 64 bits."""
    if -FITS <= value < FITS:
        whole[at] = value
    else:
        whole[at] = 0
        large[at] = value
