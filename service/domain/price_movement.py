"""What moved: every dish's published food cost from one day to another, told by the prices that moved it.

Changes are taken one after another in the order in which they came into force: by day, then by the revision that made
them. Each step is the published difference that it makes. What is no price (a recipe, a breakdown, a yield test, the
dish itself) is a step of its own, `other`, before the prices of its day: so a price is told at the quantities that it
is paid for, as a price variance is. Of a step that changes several prices of a dish each has its linear share (weight x
change, published), and what they leave of the step's difference is `rounding`; one price alone has all of it.

Rules that always hold, of every dish that has a food cost on both days:

    food cost then + sum of shares + rounding + other = food cost now          in whole units of the last decimal

- days on which the dish has no food cost in between, or is not on the menu, make one step with the next day on which it
  has: `other` first, then all prices that moved meanwhile, together;
- an ingredient that a dish takes up before its price was known is part of `other`: there is nothing to compare with.

Source:  price variances at actual quantities, as in standard costing.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from itertools import chain, groupby

from service.domain.days_of_change import days_of_change
from service.domain.history import recorded_last
from service.domain.ingredient_weights import LineWeights
from service.domain.kitchen import Kitchen
from service.domain.movement_parts import MovementParts, Step, published_units
from service.domain.price_turns import PriceTurn, decided, turns_between
from service.domain.standing_costs import StandingCosts


class Status(StrEnum):
    """Whether a dish's movement can be said, and why not."""

    COMPLETE = "complete"
    INCOMPLETE = "incomplete"
    INCOMPLETE_THEN = "incomplete_then"
    INCOMPLETE_NOW = "incomplete_now"
    NOT_ON_MENU_THEN = "not_on_menu_then"
    NOT_ON_MENU_NOW = "not_on_menu_now"
    NOT_ON_MENU = "not_on_menu"


@dataclass(frozen=True, slots=True)
class DishMovement:
    """How a dish's food cost moved.

    Units:   whole units of the last published decimal (0.0001) of money per portion. `shares`, by ingredient, and the
             other parts are empty unless the status is complete.
    """

    code: str
    name: str
    status: Status
    then: int | None
    now: int | None
    shares: Mapping[str, int]
    rounding: int
    other: int

    @property
    def change(self) -> int | None:
        """None unless the status is complete."""
        return self.now - self.then if self.now is not None and self.then is not None else None


@dataclass(frozen=True, slots=True)
class IngredientMovement:
    """How an ingredient's price moved, and by which turns.

    Units:   money per base unit; None is not known.
    """

    code: str
    name: str
    base_unit: str
    then: Fraction | None
    now: Fraction | None
    turns: tuple[PriceTurn, ...]


@dataclass(frozen=True, slots=True)
class PriceMovements:
    """What moved between two days.

    Shape:   ingredients whose price turned at least once, and every dish that is on the menu on either day, by code.
    """

    ingredients: tuple[IngredientMovement, ...]
    dishes: tuple[DishMovement, ...]


def price_movements(kitchen: Kitchen, start: date, end: date) -> PriceMovements:
    """What moved after `start` up to `end`, as known in this kitchen."""
    days = days_of_change(kitchen)
    first = last = StandingCosts.on(kitchen, start)
    parts = _parts_at(first)
    turns: list[Sequence[PriceTurn]] = []
    for day in sorted(day for day in days if start < day <= end):
        before, last = last, last.moved_to(kitchen, day, days[day])
        named = _named(days[day]) or sorted(before.kitchen.ingredients.keys() | last.kitchen.ingredients.keys())
        turns.append(turns_between(kitchen, before.kitchen, last.kitchen, named))
        _take_day(parts, before, last, turns)
    return PriceMovements(_ingredients(kitchen, first, last, turns), _dishes(first, last, parts))


def _parts_at(first: StandingCosts) -> dict[str, MovementParts]:
    costs = ((code, first.food_cost(code)) for code in first.kitchen.dishes)
    return {code: MovementParts(cost, published_units(cost)) for code, cost in costs if cost is not None}


def _named(changes: Iterable[str | None]) -> list[str]:
    """The ingredients whose prices alone can have turned; empty where anything can have."""
    return [] if None in changes else sorted(code for code in changes if code is not None)


def _take_day(parts: Mapping[str, MovementParts], before: StandingCosts, now: StandingCosts,
              turns: Sequence[Sequence[PriceTurn]]) -> None:
    """Take one day's steps; `turns` are those of every day so far, this one last."""
    steps = _steps(now.weights, turns[-1])
    if _prices_alone_moved(before, now, turns[-1]):
        for code in steps.keys() & parts.keys():
            if parts[code].incomplete_since is None:
                parts[code].take_prices(steps[code])
        return
    for code, dish in parts.items():
        figures = now.figures(code)
        if figures is before.figures(code):
            continue
        if figures is None or figures.material is None:
            if dish.incomplete_since is None:
                dish.incomplete_since = len(turns) - 1
        elif dish.incomplete_since is None:
            dish.take(figures.material, steps.get(code, ()))
        else:
            dish.take(figures.material, [_merged(now.weights, chain(*turns[dish.incomplete_since:]), code)])
            dish.incomplete_since = None


def _prices_alone_moved(before: StandingCosts, now: StandingCosts, turns: Sequence[PriceTurn]) -> bool:
    """Whether the lines are the same, and what had a cost before still has one: then costs move by the steps alone, and
    nothing needs to be costed."""
    return (now.weights is before.weights and all(turn.change is not None for turn in turns)
            and now.pools() == before.pools())


def _steps(weights: LineWeights, turns: Sequence[PriceTurn]) -> dict[str, list[Step]]:
    """The steps of a day for every dish that one of its prices counts in: one for each revision, in their order."""
    by_revision = [list(group) for _, group in groupby(turns, lambda turn: turn.cause.made.revision)]
    steps: dict[str, list[Step]] = {}
    for place, group in enumerate(by_revision):
        for turn in group:
            if turn.change:
                for dish, weight in weights.in_dishes(turn.ingredient).items():
                    steps.setdefault(dish, [[] for _ in by_revision])[place].append(
                        (turn.ingredient, weight * turn.change))
    return steps


def _merged(weights: LineWeights, turns: Iterable[PriceTurn], dish: str) -> Step:
    """All prices of several days as one step of a dish, each from before the first of its turns to after the last."""
    ends: dict[str, tuple[Fraction | None, Fraction | None]] = {}
    for turn in turns:
        then, _ = ends.get(turn.ingredient, (turn.unit_price_before, None))
        ends[turn.ingredient] = then, turn.unit_price_after
    return [(code, weights.in_dishes(code)[dish] * (now - then)) for code, (then, now) in ends.items()
            if then is not None and now is not None and now != then and dish in weights.in_dishes(code)]


def _ingredients(kitchen: Kitchen, first: StandingCosts, last: StandingCosts, turns: Iterable[Sequence[PriceTurn]]
                 ) -> tuple[IngredientMovement, ...]:
    of: dict[str, list[PriceTurn]] = {}
    for turn in chain(*turns):
        of.setdefault(turn.ingredient, []).append(turn)
    named = {code: recorded_last(kitchen.ingredients[code]).record for code in sorted(of)}
    return tuple(
        IngredientMovement(code, ingredient.name, ingredient.base_unit, decided(first.kitchen, code).unit_price,
                           decided(last.kitchen, code).unit_price, tuple(of[code]))
        for code, ingredient in named.items())


def _dishes(first: StandingCosts, last: StandingCosts, parts: Mapping[str, MovementParts]
            ) -> tuple[DishMovement, ...]:
    standing = {**first.kitchen.dishes, **last.kitchen.dishes}
    return tuple(_dish(code, standing[code].name, first, last, parts.get(code)) for code in sorted(standing))


def _dish(code: str, name: str, first: StandingCosts, last: StandingCosts, parts: MovementParts | None) -> DishMovement:
    then, now = first.food_cost(code), last.food_cost(code)
    published = [None if cost is None else published_units(cost) for cost in (then, now)]
    status = _status(code, first, last, then, now)
    if status is not Status.COMPLETE or parts is None:
        return DishMovement(code, name, status, published[0], published[1], {}, 0, 0)
    return DishMovement(code, name, status, published[0], published[1], dict(sorted(parts.shares.items())),
                        parts.rounding, parts.other)


def _status(code: str, first: StandingCosts, last: StandingCosts, then: Fraction | None, now: Fraction | None
            ) -> Status:
    if code not in first.kitchen.dishes:
        return Status.NOT_ON_MENU_THEN
    if code not in last.kitchen.dishes:
        return Status.NOT_ON_MENU_NOW
    if then is None:
        return Status.INCOMPLETE if now is None else Status.INCOMPLETE_THEN
    return Status.INCOMPLETE_NOW if now is None else Status.COMPLETE
