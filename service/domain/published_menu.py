"""The published figures of all dishes at once, from one sweep: every digit equal to exact arithmetic.

Rules that always hold: each figure is rounded once, from the exact one (settled by bound, by denominator or exactly);
a comparison with the target is one of published figures; unknown is not zero.
"""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from service.domain.channel import SLACK, UNIT, Channel
from service.domain.decimal_column import DecimalColumn
from service.domain.denominators import Floats, Whole, of_product
from service.domain.menu_terms import (
    COST_SCALE,
    FOOD_COST,
    FOOD_COST_PERCENT,
    GROSS_PROFIT,
    GROSS_PROFIT_PERCENT,
    HALF_AWAY,
    OWN_ROUNDINGS,
    TARGET,
    MenuTerms,
    spacing,
)
from service.domain.rounding import PERCENT_PLACES, UNIT_COST_PLACES
from service.domain.settle import ExactValues, Mask, exact_labour, nearest_whole, rounded, whole_step_up
from service.domain.sweep import SweptFigures, known_sweep

FITS = 2**63
TIMES = float(COST_SCALE)
PLAIN_PRODUCT = 2.0**61


@dataclass(frozen=True)
class PublishedDishes:
    """What every dish costs and earns, as whole numbers of the last decimal place.

    Shape:   one row per dish, in the order of `codes`. `within_target` means something where the percent is known.
             `settled_exactly` counts the figures that neither bound nor denominator decided.
    """

    codes: tuple[str, ...]
    food_cost: DecimalColumn
    known_food_cost: DecimalColumn
    labour_cost: DecimalColumn
    price_before_tax: DecimalColumn
    food_cost_percent: DecimalColumn
    gross_profit: DecimalColumn
    gross_profit_percent: DecimalColumn
    target_food_cost_percent: DecimalColumn
    target_menu_price: DecimalColumn
    within_target: Mask
    settled_exactly: int

    def columns(self) -> dict[str, DecimalColumn]:
        """The decimal figures by the name they are published under."""
        return {name: getattr(self, name) for name in COLUMNS}

    def row(self, row: int) -> dict[str, str | bool | None]:
        """The figures of one dish as they are published."""
        figures: dict[str, str | bool | None] = {name: column.text(row) for name, column in self.columns().items()}
        figures["within_target"] = bool(self.within_target[row]) if self.food_cost_percent.known[row] else None
        return figures

    def rows(self) -> list[dict[str, str | bool | None]]:
        """The figures of every dish as they are published."""
        texts: list[list[str | None]] = [column.texts() for column in self.columns().values()]
        known = self.food_cost_percent.known.tolist()
        within = [answer if has else None for answer, has in zip(self.within_target.tolist(), known, strict=True)]
        names = (*COLUMNS, "within_target")
        return [dict(zip(names, row, strict=True)) for row in zip(*texts, within, strict=True)]


COLUMNS = ("food_cost", "known_food_cost", "labour_cost", "price_before_tax", "food_cost_percent", "gross_profit",
           "gross_profit_percent", "target_food_cost_percent", "target_menu_price")


def published_dishes(figures: SweptFigures, terms: MenuTerms) -> PublishedDishes:
    """All dishes of a sweep on their terms."""
    whole, known, large, settled = _settled(figures, terms)
    columns = [DecimalColumn(whole[figure], known[figure], places, _large_of(large, figure, known.shape[1]))
               for figure, places in PLACES]
    food_cost, percent, profit, profit_percent = columns
    return PublishedDishes(
        codes=terms.codes,
        food_cost=food_cost,
        known_food_cost=food_cost if known[FOOD_COST].all() else _known_food_cost(figures),
        labour_cost=_labour_cost(figures),
        price_before_tax=terms.price_before_tax,
        food_cost_percent=percent,
        gross_profit=profit,
        gross_profit_percent=profit_percent,
        target_food_cost_percent=terms.target_percent,
        target_menu_price=_target_menu_price(whole[TARGET], known[TARGET],
                                             _large_of(large, TARGET, known.shape[1]), terms),
        within_target=_within_target(percent, terms),
        settled_exactly=settled,
    )


PLACES = ((FOOD_COST, UNIT_COST_PLACES), (FOOD_COST_PERCENT, PERCENT_PLACES), (GROSS_PROFIT, UNIT_COST_PLACES),
          (GROSS_PROFIT_PERCENT, PERCENT_PLACES))


def food_costs(figures: SweptFigures) -> DecimalColumn:
    """The food cost of every dish and nothing else."""
    return _costs(figures.of_dishes(), figures.compiled.material, figures, figures.exact)


def _settled(figures: SweptFigures, terms: MenuTerms) -> tuple[Whole, Mask, dict[int, int], int]:
    """All figures of all dishes (figures x dishes), which are known, those that pass 64 bits by flat position."""
    compiled = figures.compiled
    material = figures.of_dishes()
    x = terms.scale * material
    x += terms.offset
    bound = terms.bound_scale * material
    bound += terms.bound_offset
    known = x == x
    result, undecided = rounded(x, bound, lambda near: terms.nearest(near, _denominators(figures, near)), HALF_AWAY)
    if not figures.in_range:
        undecided = np.flatnonzero(known)
    whole = _integers(result, known)
    large: dict[int, int] = {}
    first = compiled.dishes.start
    for flat in undecided.tolist():
        figure, row = divmod(flat, x.shape[1])
        scale, offset = terms.exact(figure, row)
        exact = scale * figures.exact(int(compiled.shape.order[first + row])) + offset
        _put(whole.reshape(-1), large, flat, whole_step_up(exact) if figure == TARGET else nearest_whole(exact))
    return whole, known, large, len(undecided)


def _costs(values: Floats, channel: Channel, figures: SweptFigures, exact: ExactValues) -> DecimalColumn:
    """One cost of every dish at 4 decimals."""
    compiled = figures.compiled
    dishes = compiled.dishes
    x = values * TIMES
    unit = (channel.roundings[dishes] + OWN_ROUNDINGS) * (UNIT * SLACK)
    bound = unit * (np.abs(x) + 2 * TIMES * channel.negative[dishes])
    known = x == x
    result, undecided = rounded(x, bound, lambda near: _cost_spacing(figures, channel, near), HALF_AWAY[FOOD_COST])
    if not (figures.in_range and channel.in_range):
        undecided = np.flatnonzero(known)
    whole = _integers(result, known)
    large: dict[int, int] = {}
    for row in undecided.tolist():
        _put(whole, large, row, nearest_whole(COST_SCALE * exact(int(compiled.shape.order[dishes.start + row]))))
    return DecimalColumn(whole, known, UNIT_COST_PLACES, large)


def _denominators(figures: SweptFigures, near: NDArray[np.intp]) -> Whole:
    """Of the food cost of the dishes that figures at these flat positions are of."""
    dishes = figures.compiled.dishes
    return figures.compiled.material_denominators.of(
        figures.prices.denominators, dishes.start + near % (dishes.stop - dishes.start))


def _cost_spacing(figures: SweptFigures, channel: Channel, near: NDArray[np.intp]) -> Floats:
    """How near two costs at 4 decimals can lie, of these dishes."""
    compiled, at = figures.compiled, figures.compiled.dishes.start + near
    if channel is compiled.material:
        of_dishes = compiled.material_denominators.of(figures.prices.denominators, at)
    else:
        of_dishes = compiled.labour_denominators.of(np.ones(compiled.shape.prices, dtype=np.int64), at)
    return spacing(of_product(np.full_like(of_dishes, int(COST_SCALE)), np.ones_like(of_dishes), of_dishes))


def _known_food_cost(figures: SweptFigures) -> DecimalColumn:
    values, exact = known_sweep(figures)
    return _costs(values[figures.compiled.dishes], figures.compiled.material, figures, exact)


def _labour_cost(figures: SweptFigures) -> DecimalColumn:
    """Labour does not move with prices: settled once for the pools that are below zero."""
    compiled = figures.compiled
    return compiled.remembered("labour_cost", figures.below_zero, lambda: _costs(
        figures.labour[compiled.dishes], compiled.labour, figures, exact_labour(compiled.network)))


def _within_target(percent: DecimalColumn, terms: MenuTerms) -> Mask:
    within: Mask = percent.scaled <= terms.target_percent.scaled
    for row, scaled in percent.large.items():
        within[row] = scaled <= int(terms.target_percent.scaled[row])
    return within


def _target_menu_price(steps: Whole, known: Mask, large_steps: dict[int, int], terms: MenuTerms) -> DecimalColumn:
    """Steps as money, to the currency's minor unit (a step finer than that is rounded to it)."""
    places = terms.lines[0].places if terms.lines else 0
    step = (terms.lines[0].step if terms.lines else Fraction(1)) * 10**places
    up, down = step.numerator, step.denominator
    most = float(np.abs(steps).max(initial=0))
    if not large_steps and (2.0 * most * up + down) < PLAIN_PRODUCT:
        return DecimalColumn((2 * up * steps + down) // (2 * down) if down > 1 else up * steps, known, places)
    scaled, large = np.zeros_like(steps), dict[int, int]()
    for row in np.flatnonzero(known).tolist():
        _put(scaled, large, row, nearest_whole(step * large_steps.get(row, int(steps[row]))))
    return DecimalColumn(scaled, known, places, large)


def _integers(figures: Floats, known: Mask) -> Whole:
    """Rounded floats as integers; what is unknown is 0, what passes 64 bits is settled and put in its place later."""
    with np.errstate(invalid="ignore"):
        whole: NDArray[np.int64] = figures.astype(np.int64)
    if not known.all():
        whole[~known] = 0
    return whole


def _put(whole: Whole, large: dict[int, int], at: int, value: int) -> None:
    if -FITS <= value < FITS:
        whole[at] = value
    else:
        whole[at] = 0
        large[at] = value


def _large_of(large: dict[int, int], figure: int, rows: int) -> dict[int, int]:
    return {flat - figure * rows: value for flat, value in large.items() if figure * rows <= flat < (figure + 1) * rows}
