"""A tally: what some sales come to. Tallies add up, so a period is the sum of its days, and a menu that of its dishes.

    food cost            = sum over sold lines (quantity x food cost of a portion that day)
    food-cost %          = food cost / net takings
    gross profit         = net takings - food cost
    target food-cost %   = sum (net takings x target) / net takings: each dish's own target, by what it takes

Comps and staff meals cost what a portion costs and take nothing; they are in no percentage but that of the total.
Rules that always hold: a cost that rests on something unknown is None, never nil, and the known part stands beside it;
takings that are not above nil have no percentages, and those of which some have no target no target.

Source:  menu mix, contribution margin and food-cost percentage as the textbooks of food and beverage cost control have
         them (a dish's share of all portions sold; total cost over total revenue).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction

from service.domain.exact_sums import exact_sum
from service.domain.rounding import PERCENT_PLACES, published
from service.domain.sales import SaleKind

NIL = Fraction(0)


@dataclass(frozen=True, slots=True)
class Part:
    """What was sold, given away or eaten, of one kind.

    Shape:   `lacking` counts the dishes and days whose cost is not known: their takings are in `takings` and not in
             `costed_takings`, their known part is in `partial` and not in `cost`.
    """

    quantity: Fraction = NIL
    takings: Fraction = NIL
    cost: Fraction = NIL
    partial: Fraction = NIL
    costed_takings: Fraction = NIL
    lacking: Fraction = NIL

    @property
    def whole_cost(self) -> Fraction | None:
        return None if self.lacking else self.cost


NOTHING = Part()


@dataclass(frozen=True, slots=True)
class Tally:
    """What some sales come to.

    Units:   quantities in portions; the rest is money, percents are percents.
    Shape:   `target_cost` is what the food may cost by the targets of the dishes that were sold; `untargeted` counts
             the takings that no dish, and so no target, is known of.
    Example: 252 of 2 635 portions are 9.56 % of the mix.
    """

    sale: Part = NOTHING
    comp: Part = NOTHING
    staff_meal: Part = NOTHING
    target_cost: Fraction = NIL
    untargeted: Fraction = NIL

    @property
    def parts(self) -> tuple[Part, Part, Part]:
        return self.sale, self.comp, self.staff_meal

    @property
    def is_complete(self) -> bool:
        return not any(part.lacking for part in self.parts)

    @property
    def total_cost(self) -> Fraction | None:
        """Of all that left the kitchen."""
        return sum((part.cost for part in self.parts), NIL) if self.is_complete else None

    @property
    def known_total_cost(self) -> Fraction:
        """The known part of it: what is not known counts as nil."""
        return sum((part.cost + part.partial for part in self.parts), NIL)

    @property
    def food_cost_percent(self) -> Fraction | None:
        return percent_of(self.sale.whole_cost, self.sale.takings)

    @property
    def total_cost_percent(self) -> Fraction | None:
        """Comps and staff meals included: what actual use is to be held against."""
        return percent_of(self.total_cost, self.sale.takings)

    @property
    def costed_food_cost_percent(self) -> Fraction | None:
        """Of the dishes alone whose cost is known, over what they took."""
        return percent_of(self.sale.cost, self.sale.costed_takings)

    @property
    def gross_profit(self) -> Fraction | None:
        """Before labour; of what was sold."""
        cost = self.sale.whole_cost
        return None if cost is None else self.sale.takings - cost

    @property
    def gross_profit_percent(self) -> Fraction | None:
        return percent_of(self.gross_profit, self.sale.takings)

    @property
    def target_food_cost_percent(self) -> Fraction | None:
        return None if self.untargeted else percent_of(self.target_cost, self.sale.takings)

    @property
    def within_target(self) -> bool | None:
        """A comparison of published figures, as of a dish."""
        percent, target = self.food_cost_percent, self.target_food_cost_percent
        if percent is None or target is None:
            return None
        return published(percent, PERCENT_PLACES) <= published(target, PERCENT_PLACES)

    @property
    def average_food_cost(self) -> Fraction | None:
        """Of a portion sold."""
        return average_of(self.sale.whole_cost, self.sale.quantity)

    @property
    def average_gross_profit(self) -> Fraction | None:
        """Of a portion sold."""
        return average_of(self.gross_profit, self.sale.quantity)


def tally_of(parts: Mapping[SaleKind, Part], target: Fraction | None = NIL) -> Tally:
    """The tally of one dish on one day; `target` is its target food cost as a fraction, None where it is not known."""
    sale = parts.get(SaleKind.SALE, NOTHING)
    return Tally(sale, parts.get(SaleKind.COMP, NOTHING), parts.get(SaleKind.STAFF_MEAL, NOTHING),
                 sale.takings * (target or NIL), Fraction(target is None and bool(sale.takings)))


def added_up(tallies: Sequence[Tally]) -> Tally:
    """All of them together, whatever the order."""
    return Tally(_parts_added_up([tally.sale for tally in tallies]), _parts_added_up([tally.comp for tally in tallies]),
                 _parts_added_up([tally.staff_meal for tally in tallies]),
                 exact_sum(tally.target_cost for tally in tallies), exact_sum(tally.untargeted for tally in tallies))


def percent_of(part: Fraction | None, whole: Fraction) -> Fraction | None:
    """A share of takings or portions as a percent; None where that says nothing."""
    return None if part is None or whole <= 0 else part / whole * 100


def average_of(amount: Fraction | None, quantity: Fraction) -> Fraction | None:
    """An amount a portion; None where none was sold."""
    return None if amount is None or quantity <= 0 else amount / quantity


_FIELDS = tuple(field.name for field in fields(Part))


def _parts_added_up(parts: Sequence[Part]) -> Part:
    counted = [part for part in parts if part is not NOTHING]
    if len(counted) < 2:
        return counted[0] if counted else NOTHING
    return Part(*(exact_sum([getattr(part, name) for part in counted]) for name in _FIELDS))
