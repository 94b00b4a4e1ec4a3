"""What all dishes are sold on, as arrays: each published figure of a dish is scale x food cost + offset, in whole
numbers of its last decimal place.

    food cost        10**4 M                            gross profit     10**4 (P - M)
    food-cost %      10**4 M / P                        gross profit %   10**4 (1 - M / P)
    target price     M (1 + tax) / (target x step) + 1/2, in steps: whole numbers up to it, a half below it rounded up

Rules that always hold: the exact scale and offset are kept beside the floats; a dish without a menu price (or with one
of nil, or a target of nil) has NaN, unknown, where it has no figure.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.domain.channel import SLACK, UNIT
from service.domain.decimal_column import DecimalColumn
from service.domain.denominators import Floats, Whole, denominators_of, floats_of, numerators_of, of_product, shared
from service.domain.dish import Dish
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu import Terms, terms_of
from service.domain.network import NIL
from service.domain.rounding import PERCENT_PLACES, UNIT_COST_PLACES
from service.domain.settle import HALF, Mask, nearest_whole
from service.domain.sweep import CompiledSweep

FOOD_COST, FOOD_COST_PERCENT, GROSS_PROFIT, GROSS_PROFIT_PERCENT, TARGET = range(5)
FIGURES = 5
HALF_AWAY = np.array([[True], [True], [True], [True], [False]])
COST_SCALE = Fraction(10**UNIT_COST_PLACES)
PERCENT_SCALE = Fraction(100 * 10**PERCENT_PLACES)
OWN_ROUNDINGS = 8
Linear = tuple[Fraction, Fraction]
NO_FIGURE: Linear = (NIL, NIL)


@dataclass(frozen=True)
class DishLine:
    """The exact terms of the dishes that are sold alike: per figure (scale, offset), None where there is no figure."""

    figures: tuple[Linear | None, ...]
    price_before_tax: int | None
    target_percent: int
    step: Fraction
    places: int


@dataclass(frozen=True)
class LineTable:
    """The terms of a series of lines as arrays: figures x lines, `price_before_tax` and `target_percent` by line.

    Shape:   scales and offsets are NaN where there is no figure; the integers are those that they come from.
    """

    scale: Floats
    offset: Floats
    numerators: Whole
    denominators: Whole
    offset_denominators: Whole
    price_before_tax: Whole
    has_price: Mask
    target_percent: Whole

    @classmethod
    def of(cls, lines: Sequence[DishLine]) -> "LineTable":
        """The arrays of these lines."""
        pairs = [[line.figures[figure] or NO_FIGURE for line in lines] for figure in range(FIGURES)]
        scales = [[scale for scale, _ in row] for row in pairs]
        offsets = [[offset for _, offset in row] for row in pairs]
        none = np.array([[line.figures[figure] is None for line in lines] for figure in range(FIGURES)], dtype=np.bool_)
        before_tax = [line.price_before_tax for line in lines]
        return cls(np.where(none, np.nan, np.stack([floats_of(row) for row in scales])),
                   np.where(none, np.nan, np.stack([floats_of(row) for row in offsets])),
                   np.stack([numerators_of(row) for row in scales]),
                   np.stack([denominators_of(row) for row in scales]),
                   np.stack([denominators_of(row) for row in offsets]),
                   np.array([price or 0 for price in before_tax], dtype=np.int64),
                   np.array([price is not None for price in before_tax], dtype=np.bool_),
                   np.array([line.target_percent for line in lines], dtype=np.int64))

    def followed_by(self, other: "LineTable") -> "LineTable":
        """These lines and then the others."""
        return LineTable(*(np.concatenate([getattr(self, one.name), getattr(other, one.name)], axis=-1)
                           for one in fields(self)))


@dataclass(frozen=True)
class MenuTerms:
    """The terms of all dishes of a compiled network, in its order of dishes.

    Shape:   `scale`, `offset` and the bound's `bound_scale`, `bound_offset` are figures x dishes. The bound is that of
             the food cost times the scale, and the roundings of scale, offset, product and sum.
    """

    codes: tuple[str, ...]
    lines: tuple[DishLine, ...]
    line_of: Whole
    table: LineTable
    scale: Floats
    offset: Floats
    bound_scale: Floats
    bound_offset: Floats
    price_before_tax: DecimalColumn
    target_percent: DecimalColumn

    @classmethod
    def of(cls, compiled: CompiledSweep, dishes: Mapping[str, Dish], settings: KitchenSettings) -> "MenuTerms":
        """The terms of every dish of the network; `dishes` by code."""
        codes = tuple(compiled.network.nodes[index].code for index in compiled.shape.order[compiled.dishes])
        lines, line_of = _lines([dishes[code] for code in codes], settings)
        channel = compiled.material
        return cls._of_lines(codes, lines, line_of, LineTable.of(lines), channel.roundings[compiled.dishes],
                             channel.negative[compiled.dishes])

    def under(self, compiled: CompiledSweep, moved: Sequence[Dish], settings: KitchenSettings) -> "MenuTerms":
        """The terms once these dishes are sold otherwise, of a sweep of the same dishes; settings as they were."""
        channel = compiled.material
        return self._of_lines(self.codes, *self._lines_once(moved, settings),
                              channel.roundings[compiled.dishes], channel.negative[compiled.dishes])

    def at(self, rows: NDArray[np.intp], moved: Sequence[Dish], settings: KitchenSettings, roundings: Floats,
           negative: Floats) -> "MenuTerms":
        """The terms of some dishes alone once these dishes are sold otherwise, given K and n of each one's bound."""
        lines, line_of, table = self._lines_once(moved, settings)
        return self._of_lines(tuple(self.codes[row] for row in rows.tolist()), lines, line_of[rows], table, roundings,
                              negative)

    def tiled(self, times: int) -> "MenuTerms":
        """The terms of the same dishes so many times over."""
        if times == 1:
            return self
        wide: dict[str, Any] = {name: np.tile(getattr(self, name), times) for name in (
            "line_of", "scale", "offset", "bound_scale", "bound_offset")}
        every = np.arange(len(self.codes))
        return replace(self, codes=self.codes * times, price_before_tax=self.price_before_tax.tiled(every, times),
                       target_percent=self.target_percent.tiled(every, times), **wide)

    def _lines_once(self, moved: Sequence[Dish],
                    settings: KitchenSettings) -> tuple[tuple[DishLine, ...], Whole, LineTable]:
        """The lines, which of them each dish has, and their table, once these dishes are sold otherwise."""
        if not moved:
            return self.lines, self.line_of, self.table
        added, added_of = _lines(moved, settings)
        row_of = {code: row for row, code in enumerate(self.codes)} if len(moved) > 1 else {
            moved[0].code: self.codes.index(moved[0].code)}
        line_of = self.line_of.copy()
        line_of[[row_of[dish.code] for dish in moved]] = added_of + len(self.lines)
        return (*self.lines, *added), line_of, self.table.followed_by(LineTable.of(added))

    @classmethod
    def _of_lines(cls, codes: tuple[str, ...], lines: tuple[DishLine, ...], line_of: Whole, table: LineTable,
                  roundings: Floats, negative: Floats) -> "MenuTerms":
        scale, offset = (np.ascontiguousarray(per_line[:, line_of]) for per_line in (table.scale, table.offset))
        unit = (roundings + OWN_ROUNDINGS) * (UNIT * SLACK)
        bound_scale = np.abs(scale) * unit
        bound_offset = np.abs(offset) * unit + bound_scale * (2 * negative)
        every = np.ones(len(codes), dtype=np.bool_)
        return cls(codes, lines, line_of, table, scale, offset, bound_scale, bound_offset,
                   DecimalColumn(table.price_before_tax[line_of], table.has_price[line_of], UNIT_COST_PLACES),
                   DecimalColumn(table.target_percent[line_of], every, PERCENT_PLACES))

    def exact(self, figure: int, row: int) -> Linear:
        """The exact scale and offset of a figure that the dish has."""
        linear = self.lines[int(self.line_of[row])].figures[figure]
        if linear is None:
            raise LookupError(f"dish {self.codes[row]} has no figure {figure}")
        return linear

    def nearest(self, flat: NDArray[np.intp], of_food_cost: Whole) -> Floats:
        """How near two different values of these figures (flat positions of figures x dishes) can lie, a tie being
        one: 1 / common denominator; 0 where that is not known. `of_food_cost` are the denominators of their dishes."""
        figure, row = np.divmod(flat, len(self.codes))
        line, table = self.line_of[row], self.table
        own = of_product(table.numerators[figure, line], table.denominators[figure, line], of_food_cost)
        return spacing(shared(own, table.offset_denominators[figure, line]))


def _lines(dishes: Iterable[Dish], settings: KitchenSettings) -> tuple[tuple[DishLine, ...], Whole]:
    """The lines of dishes that are sold alike, and which of them each dish has."""
    of_sections = {one.section: one.target_food_cost_percent for one in settings.section_targets}
    alike: dict[tuple[object, ...], int] = {}
    lines: list[DishLine] = []
    line_of = []
    for dish in dishes:
        own = dish.target_food_cost_percent
        sold_on = (dish.menu_price, dish.tax_rate_percent, of_sections.get(dish.section) if own is None else own)
        if sold_on not in alike:
            alike[sold_on] = len(lines)
            lines.append(_line(dish, terms_of(dish, settings)))
        line_of.append(alike[sold_on])
    return tuple(lines), np.array(line_of, dtype=np.int64)


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
