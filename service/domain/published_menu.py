"""The published figures of all dishes at once, from one sweep: every digit equal to exact arithmetic.

Rules that always hold: each figure is rounded once, from the exact one (settled by bound, by denominator or exactly);
a comparison with the target is one of published figures; unknown is not zero.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.domain.decimal_column import DecimalColumn
from service.domain.denominators import Whole
from service.domain.dish_costs import DishCosts, food_costs_of, integers, put, settled
from service.domain.menu_terms import (
    FOOD_COST,
    FOOD_COST_PERCENT,
    GROSS_PROFIT,
    GROSS_PROFIT_PERCENT,
    HALF_AWAY,
    TARGET,
    MenuTerms,
)
from service.domain.rounding import PERCENT_PLACES, UNIT_COST_PLACES
from service.domain.settle import Mask, exact_labour, nearest_whole, rounded, whole_step_up
from service.domain.sweep import SweptFigures

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

    def part(self, rows: slice) -> "PublishedDishes":
        """A run of dishes; `settled_exactly` stays that of all."""
        columns: dict[str, Any] = {name: column.part(rows) for name, column in self.columns().items()}
        return replace(self, codes=self.codes[rows], within_target=self.within_target[rows], **columns)

    def with_rows(self, rows: "NDArray[np.intp] | Sequence[int]", others: "PublishedDishes") -> "PublishedDishes":
        """The dishes with others in some rows."""
        rows, within = np.asarray(rows, dtype=np.intp), self.within_target.copy()
        within[rows] = others.within_target
        columns: dict[str, Any] = {name: column.with_rows(rows, getattr(others, name))
                                   for name, column in self.columns().items()}
        return replace(self, within_target=within, settled_exactly=others.settled_exactly, **columns)

    def row(self, row: int) -> dict[str, str | bool | None]:
        """The figures of one dish as they are published."""
        figures: dict[str, str | bool | None] = {name: column.text(row) for name, column in self.columns().items()}
        figures["within_target"] = bool(self.within_target[row]) if self.food_cost_percent.known[row] else None
        return figures

    def rows(self, names: Sequence[str] | None = None) -> list[dict[str, str | bool | None]]:
        """The figures of every dish as they are published: all, or those named."""
        columns = [getattr(self, name) for name in (COLUMNS if names is None else names)]
        made = {id(column): column.texts() for column in columns}
        known = self.food_cost_percent.known.tolist()
        within = [answer if has else None for answer, has in zip(self.within_target.tolist(), known, strict=True)]
        told = (*(COLUMNS if names is None else names), "within_target")
        return [dict(zip(told, row, strict=True))
                for row in zip(*(made[id(column)] for column in columns), within, strict=True)]


COLUMNS = ("food_cost", "known_food_cost", "labour_cost", "price_before_tax", "food_cost_percent", "gross_profit",
           "gross_profit_percent", "target_food_cost_percent", "target_menu_price")
RESTING_ON_COST = tuple(name for name in COLUMNS if name not in ("price_before_tax", "target_food_cost_percent"))
"""The others are what a dish is sold on."""


def published_dishes(figures: SweptFigures, terms: MenuTerms) -> PublishedDishes:
    """All dishes of a sweep on their terms."""
    return published_of(food_costs_of(figures), terms, lambda: _known_food_cost(figures), lambda: _labour_cost(figures))


def published_of(costs: DishCosts, terms: MenuTerms, known_at_least: Callable[[], DecimalColumn],
                 labour: Callable[[], DecimalColumn]) -> PublishedDishes:
    """Dishes that cost so much, on their terms; what is `known_at_least` is asked where a food cost is not known."""
    whole, known, large, settled_exactly = _settled(costs, terms)
    columns = [DecimalColumn(whole[figure], known[figure], places, _large_of(large, figure, known.shape[1]))
               for figure, places in PLACES]
    food_cost, percent, profit, profit_percent = columns
    return PublishedDishes(
        codes=terms.codes,
        food_cost=food_cost,
        known_food_cost=food_cost if known[FOOD_COST].all() else known_at_least(),
        labour_cost=labour(),
        price_before_tax=terms.price_before_tax,
        food_cost_percent=percent,
        gross_profit=profit,
        gross_profit_percent=profit_percent,
        target_food_cost_percent=terms.target_percent,
        target_menu_price=_target_menu_price(whole[TARGET], known[TARGET],
                                             _large_of(large, TARGET, known.shape[1]), terms),
        within_target=_within_target(percent, terms),
        settled_exactly=settled_exactly,
    )


PLACES = ((FOOD_COST, UNIT_COST_PLACES), (FOOD_COST_PERCENT, PERCENT_PLACES), (GROSS_PROFIT, UNIT_COST_PLACES),
          (GROSS_PROFIT_PERCENT, PERCENT_PLACES))


def food_costs(figures: SweptFigures) -> DecimalColumn:
    """The food cost of every dish and nothing else."""
    return settled(food_costs_of(figures))


def _settled(costs: DishCosts, terms: MenuTerms) -> tuple[Whole, Mask, dict[int, int], int]:
    """All figures of all dishes (figures x dishes), which are known, those that pass 64 bits by flat position."""
    x = terms.scale * costs.values
    x += terms.offset
    bound = terms.bound_scale * costs.values
    bound += terms.bound_offset
    known = x == x
    rows = x.shape[1]
    result, undecided = rounded(
        x, bound, lambda near: terms.nearest(near, costs.denominators(near % rows)), HALF_AWAY)
    if not costs.in_range:
        undecided = np.flatnonzero(known)
    whole = integers(result, known)
    large: dict[int, int] = {}
    for flat in undecided.tolist():
        figure, row = divmod(flat, rows)
        scale, offset = terms.exact(figure, row)
        exact = scale * costs.exact(row) + offset
        put(whole.reshape(-1), large, flat, whole_step_up(exact) if figure == TARGET else nearest_whole(exact))
    return whole, known, large, len(undecided)


def _known_food_cost(figures: SweptFigures) -> DecimalColumn:
    values, exact = figures.known
    at, order = figures.compiled.dishes, figures.compiled.shape.order
    return settled(replace(food_costs_of(figures), values=values[at],
                           exact=lambda row: exact(int(order[at.start + row]))))


def _labour_cost(figures: SweptFigures) -> DecimalColumn:
    """Labour does not move with prices: settled once for the pools that are below zero."""
    compiled = figures.compiled
    return compiled.remembered("labour_cost", figures.below_zero, lambda: settled(_labour_of(figures)))


def _labour_of(figures: SweptFigures) -> DishCosts:
    compiled, at = figures.compiled, figures.compiled.dishes
    channel, exact = compiled.labour, exact_labour(compiled.network)
    return DishCosts(
        figures.labour[at], channel.roundings[at], channel.negative[at], figures.in_range and channel.in_range,
        lambda rows: compiled.labour_denominators.of(np.ones(compiled.shape.prices, dtype=np.int64), at.start + rows),
        lambda row: exact(int(compiled.shape.order[at.start + row])))


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
        put(scaled, large, row, nearest_whole(step * large_steps.get(row, int(steps[row]))))
    return DecimalColumn(scaled, known, places, large)


def _large_of(large: dict[int, int], figure: int, rows: int) -> dict[int, int]:
    return {flat - figure * rows: value for flat, value in large.items() if figure * rows <= flat < (figure + 1) * rows}
