"""What all dishes are sold on, as arrays: each published figure of a dish is scale x food cost + offset, in whole
numbers of its last decimal place.

    food cost        10**4 M                            gross profit     10**4 (P - M)
    food-cost %      10**4 M / P                        gross profit %   10**4 (1 - M / P)
    target price     M (1 + tax) / (target x step) + 1/2, in steps: whole numbers up to it, a half below it rounded up

Rules that always hold: the exact scale and offset are kept beside the floats; a dish without a menu price (or with one
of nil, or a target of nil) has NaN, unknown, where it has no figure.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from service.domain.channel import SLACK, UNIT
from service.domain.decimal_column import DecimalColumn
from service.domain.denominators import Floats, Whole, denominators_of, floats_of, numerators_of, of_product, shared
from service.domain.dish import Dish
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu import Terms, terms_of
from service.domain.network import NIL
from service.domain.rounding import PERCENT_PLACES, UNIT_COST_PLACES
from service.domain.settle import HALF, nearest_whole
from service.domain.sweep import CompiledSweep

FOOD_COST, FOOD_COST_PERCENT, GROSS_PROFIT, GROSS_PROFIT_PERCENT, TARGET = range(5)
FIGURES = 5
HALF_AWAY = np.array([[True], [True], [True], [True], [False]])
COST_SCALE = Fraction(10**UNIT_COST_PLACES)
PERCENT_SCALE = Fraction(100 * 10**PERCENT_PLACES)
OWN_ROUNDINGS = 8
Linear = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class DishLine:
    """The exact terms of the dishes that are sold alike: per figure (scale, offset), None where there is no figure."""

    figures: tuple[Linear | None, ...]
    price_before_tax: int | None
    target_percent: int
    step: Fraction
    places: int


@dataclass(frozen=True)
class MenuTerms:
    """The terms of all dishes of a compiled network, in its order of dishes.

    Shape:   `scale`, `offset` and the bound's `bound_scale`, `bound_offset` are figures x dishes. The bound is that of
             the food cost times the scale, and the roundings of scale, offset, product and sum.
    """

    dishes: slice
    codes: tuple[str, ...]
    lines: tuple[DishLine, ...]
    line_of: Whole
    scale: Floats
    offset: Floats
    bound_scale: Floats
    bound_offset: Floats
    price_before_tax: DecimalColumn
    target_percent: DecimalColumn
    _remembered: dict[str, tuple[Whole, Floats]] = field(default_factory=dict, repr=False, compare=False)

    @classmethod
    def of(cls, compiled: CompiledSweep, dishes: Mapping[str, Dish], settings: KitchenSettings) -> "MenuTerms":
        """The terms of every dish of the network; `dishes` by code."""
        codes = tuple(compiled.network.nodes[index].code for index in compiled.shape.order[compiled.dishes])
        alike: dict[tuple[object, ...], int] = {}
        of_sections = {one.section: one.target_food_cost_percent for one in settings.section_targets}
        lines: list[DishLine] = []
        line_of = np.empty(len(codes), dtype=np.int64)
        for row, code in enumerate(codes):
            dish = dishes[code]
            own = dish.target_food_cost_percent
            sold_on = (dish.menu_price, dish.tax_rate_percent, of_sections.get(dish.section) if own is None else own)
            if sold_on not in alike:
                alike[sold_on] = len(lines)
                lines.append(_line(dish, terms_of(dish, settings)))
            line_of[row] = alike[sold_on]
        return cls._of_lines(compiled, codes, tuple(lines), line_of)

    @classmethod
    def _of_lines(cls, compiled: CompiledSweep, codes: tuple[str, ...], lines: tuple[DishLine, ...],
                  line_of: Whole) -> "MenuTerms":
        scale, offset = (_per_figure(lines, part, line_of) for part in (0, 1))
        channel = compiled.material
        unit = (channel.roundings[compiled.dishes] + OWN_ROUNDINGS) * (UNIT * SLACK)
        bound_scale = np.abs(scale) * unit
        bound_offset = np.abs(offset) * unit + bound_scale * (2 * channel.negative[compiled.dishes])
        return cls(compiled.dishes, codes, lines, line_of, scale, offset, bound_scale, bound_offset,
                   _column([line.price_before_tax for line in lines], line_of, UNIT_COST_PLACES),
                   _column([line.target_percent for line in lines], line_of, PERCENT_PLACES))

    def exact(self, figure: int, row: int) -> Linear:
        """The exact scale and offset of a figure that the dish has."""
        linear = self.lines[int(self.line_of[row])].figures[figure]
        if linear is None:
            raise LookupError(f"dish {self.codes[row]} has no figure {figure}")
        return linear

    def nearest(self, denominators: Whole) -> Floats:
        """How near two different values of a figure can lie, a tie being one: 1 / common denominator, figures x
        dishes; 0 where that is not known. `denominators` are those of all nodes; the same array is worked up once."""
        covered, found = self._remembered.get("nearest", (None, None))
        if covered is not denominators or found is None:
            of_dishes = denominators[self.dishes]
            found = np.stack([self._nearest(figure, of_dishes) for figure in range(FIGURES)])
            self._remembered["nearest"] = (denominators, found)
        return found

    def _nearest(self, figure: int, of_food_cost: Whole) -> Floats:
        pairs = [line.figures[figure] or (NIL, NIL) for line in self.lines]
        scales = [scale for scale, _ in pairs]
        offsets = denominators_of([offset for _, offset in pairs])[self.line_of]
        figure_of = of_product(numerators_of(scales)[self.line_of], denominators_of(scales)[self.line_of], of_food_cost)
        return spacing(shared(figure_of, offsets))


def spacing(denominators: Whole) -> Floats:
    """How near a figure of this denominator can lie to a tie without being it."""
    with_tie = shared(denominators, np.full_like(denominators, 2))
    return np.where(with_tie > 0, 1 / SLACK / np.maximum(with_tie, 1), 0.0)


def _line(dish: Dish, terms: Terms) -> DishLine:
    target = None if terms.target <= 0 else ((1 + terms.tax) / (terms.target * terms.step), HALF)
    food_cost = (COST_SCALE, NIL)
    percent = nearest_whole(terms.target * PERCENT_SCALE)
    if dish.menu_price is None:
        return DishLine((food_cost, None, None, None, target), None, percent, terms.step, terms.places)
    before_tax = Fraction(dish.menu_price) / (1 + terms.tax)
    gross_profit = (-COST_SCALE, before_tax * COST_SCALE)
    of_price = PERCENT_SCALE / before_tax if before_tax else None
    percents = (None, None) if of_price is None else ((of_price, NIL), (-of_price, PERCENT_SCALE))
    return DishLine((food_cost, percents[0], gross_profit, percents[1], target),
                    nearest_whole(before_tax * COST_SCALE), percent, terms.step, terms.places)


def _per_figure(lines: tuple[DishLine, ...], part: int, line_of: Whole) -> Floats:
    """Scales (part 0) or offsets (1) as floats, NaN where there is no figure."""
    table = np.empty((FIGURES, len(lines)))
    for figure in range(FIGURES):
        pairs = [line.figures[figure] for line in lines]
        table[figure] = floats_of([NIL if pair is None else pair[part] for pair in pairs])
        table[figure, [pair is None for pair in pairs]] = np.nan
    return np.ascontiguousarray(table[:, line_of])


def _column(per_line: list[int | None], line_of: Whole, places: int) -> DecimalColumn:
    known = np.array([value is not None for value in per_line], dtype=np.bool_)
    scaled = np.array([value or 0 for value in per_line], dtype=np.int64)
    return DecimalColumn(scaled[line_of], known[line_of], places)
