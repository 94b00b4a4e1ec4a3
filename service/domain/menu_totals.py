"""The menu as a whole: what so many portions of each dish cost and take, made of the dishes' published figures.

    food-cost % = sum over dishes (covers x food cost) / sum over dishes (covers x price before tax)

Rules that always hold: a dish without a figure counts in neither sum, and is counted apart; the sums are of published
figures, so that whoever adds up the rows finds them; the percentage is rounded once, from those sums.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import NamedTuple

from service.domain.publication import cost_in_words, percent_in_words
from service.domain.rounding import UNIT_COST_PLACES

UNIT = 10**UNIT_COST_PLACES


class MenuLine(NamedTuple):
    """One dish: its covers, and its published figures in whole units of 0.0001 money. None is not known."""

    covers: Fraction | int
    food_cost: int | None
    price_before_tax: int | None
    within_target: bool | None


@dataclass(frozen=True, slots=True)
class MenuTotals:
    """What the menu comes to.

    Shape:   `dishes` are those that have covers, `without_figures` those of them that count in no sum; within and
             outside target are counted over all dishes of the menu.
    Units:   money for all covers together.
    """

    dishes: int
    without_figures: int
    within_target: int
    outside_target: int
    covers: Fraction
    food_cost: Fraction
    net_takings: Fraction

    @classmethod
    def of(cls, lines: Iterable[MenuLine]) -> "MenuTotals":
        """Add up the lines of a menu."""
        dishes = without = within = outside = 0
        covers: Fraction | int = 0
        food_cost: Fraction | int = 0
        takings: Fraction | int = 0
        for line in lines:
            within += line.within_target is True
            outside += line.within_target is False
            if not line.covers:
                continue
            dishes += 1
            if line.food_cost is None or line.price_before_tax is None:
                without += 1
                continue
            covers += line.covers
            food_cost += line.covers * line.food_cost
            takings += line.covers * line.price_before_tax
        return cls(dishes, without, within, outside, Fraction(covers), Fraction(food_cost) / UNIT,
                   Fraction(takings) / UNIT)

    def with_others(self, were: "MenuTotals", now: "MenuTotals") -> "MenuTotals":
        """The menu once the dishes that came to `were` come to `now`: every total is a sum over dishes."""
        return MenuTotals(*(getattr(self, one.name) - getattr(were, one.name) + getattr(now, one.name)
                            for one in fields(self)))

    @property
    def food_cost_percent(self) -> Fraction | None:
        """Of the takings before tax; None where those are nil."""
        return self.food_cost / self.net_takings * 100 if self.net_takings else None

    def as_published(self) -> dict[str, str | int | None]:
        """The totals as they go out: money to 4 decimals, percentages to 2."""
        profit = self.net_takings - self.food_cost
        return {
            "dishes": self.dishes, "dishes_without_figures": self.without_figures,
            "dishes_within_target": self.within_target, "dishes_outside_target": self.outside_target,
            "covers": cost_in_words(self.covers), "food_cost": cost_in_words(self.food_cost),
            "net_takings": cost_in_words(self.net_takings),
            "food_cost_percent": percent_in_words(self.food_cost_percent),
            "gross_profit": cost_in_words(profit),
            "gross_profit_percent": percent_in_words(profit / self.net_takings * 100 if self.net_takings else None)}


def units_of(published: str | None) -> int | None:
    """A published figure of 4 decimals in whole units of its last place."""
    return None if published is None else int(published.replace(".", "", 1))
