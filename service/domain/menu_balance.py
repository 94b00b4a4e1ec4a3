"""The balance of a menu: what so many covers need of everything, what must be bought for it, and what is left over.

    outlay     = ingredients bought as such + primals + packaging and disposal + short by-products + allowance
    food cost  = covers x food cost of each dish, as the menu figures say it
    outlay     = food cost + left over (main and trim) + by-products left

Rules that always hold: all is exact; the figures of the last line are found apart and agree to the last digit, but
where by-products alone come off, which carry no cost; covers doubled double all but whole pieces; what is not known is
None, and `gaps` says what is missing. The allowance of a dish is on its cost and on no kilogram.

Source:  material requirements (gross requirements exploded level by level), and joint cost: what comes off together is
         paid for together, whether it is sold or not.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from service.domain.balance_findings import balance_findings
from service.domain.breakdown import Role
from service.domain.breakdown_balance import BreakdownBalance
from service.domain.cascade import NO_GAPS, Costing, in_order
from service.domain.exact_sums import added, worth
from service.domain.findings import Finding, Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.menu import DishFigures, dish_figures
from service.domain.menu_needs import BoughtAsSuch, needs_down
from service.domain.sales_tally import percent_of


@dataclass(frozen=True, slots=True)
class DishCovered:
    """So many portions of a dish, and what one costs. `allowance` is the part of its food cost that no line says."""

    quantity: Fraction
    figures: DishFigures
    allowance: Fraction | None

    @property
    def food_cost(self) -> Fraction | None:
        return worth(self.quantity, self.figures.food_cost)

    @property
    def takings(self) -> Fraction | None:
        """At the menu price, before tax."""
        return worth(self.quantity, self.figures.price_before_tax)


@dataclass(frozen=True, slots=True)
class MenuBalance:
    """What so many covers need, buy and leave over.

    Shape:   dishes, ingredients and breakdowns by code. None is not known.
    Units:   money in `currency`.
    """

    currency: str
    dishes: tuple[DishCovered, ...]
    ingredients: tuple[BoughtAsSuch, ...]
    breakdowns: tuple[BreakdownBalance, ...]
    gaps: tuple[Gap, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        return tuple(found for each in self.breakdowns for found in balance_findings(each, self.currency))

    @property
    def food_cost(self) -> Fraction | None:
        return added(*(dish.food_cost for dish in self.dishes))

    @property
    def allowance(self) -> Fraction | None:
        return added(*(dish.allowance for dish in self.dishes))

    @property
    def takings(self) -> Fraction | None:
        return added(*(dish.takings for dish in self.dishes))

    @property
    def ingredients_cost(self) -> Fraction | None:
        """Of what is bought as such."""
        return added(*(each.cost for each in self.ingredients))

    @property
    def primals_cost(self) -> Fraction | None:
        """Of what is bought to be broken down, the whole of it."""
        return added(*(each.input_cost for each in self.breakdowns if each.breakdown.input.ingredient is not None))

    @property
    def charges(self) -> Fraction | None:
        """Packaging and disposal."""
        return added(*(each.charges for each in self.breakdowns))

    @property
    def outlay(self) -> Fraction | None:
        """All that is really paid for these covers, but for labour; by-products not yet sold."""
        return added(self.ingredients_cost, self.primals_cost, self.charges, self.short_value, self.allowance)

    @property
    def short_value(self) -> Fraction | None:
        """By-products that are needed and do not come off, at their credit."""
        return added(*(each.short_value for of in self.breakdowns for each in of.outputs))

    @property
    def used_value(self) -> Fraction | None:
        """Material cost of the cuts that dishes and recipes use."""
        return added(*(worth(each.need.by_lines if each.need.known else None, each.material_per_kg)
                       for of in self.breakdowns for each in of.outputs))

    def left_value(self, *roles: Role) -> Fraction | None:
        return added(*(each.left_value(*roles) for each in self.breakdowns))

    @property
    def left_over_value(self) -> Fraction | None:
        """Material cost of the main cuts and the trim that nothing uses."""
        return self.left_value(Role.MAIN, Role.TRIM)

    @property
    def left_over_market_value(self) -> Fraction | None:
        return added(*(each.left_market_value(Role.MAIN, Role.TRIM) for each in self.breakdowns))

    @property
    def left_over_percent(self) -> Fraction | None:
        """What is left over, of that and of all that dishes and recipes use: by-products that they use too."""
        left, used = self.left_over_value, self.used_value
        return None if left is None or used is None else percent_of(left, left + used)

    @property
    def food_cost_percent(self) -> Fraction | None:
        return None if self.takings is None else percent_of(self.food_cost, self.takings)

    @property
    def outlay_percent(self) -> Fraction | None:
        """Of takings: what the food-cost % would be if nothing that is left over were ever sold."""
        return None if self.takings is None else percent_of(self.outlay, self.takings)


def menu_balance(kitchen: KitchenOnDay, costing: Costing, covers: Mapping[str, Fraction], whole_pieces: bool = True
                 ) -> MenuBalance:
    """The balance of so many covers; `costing` is that of the kitchen's own network.

    Raises:  KeyError for a dish that does not stand.
    """
    walk = needs_down(kitchen, costing, covers, whole_pieces)
    dishes = tuple(_covered(kitchen, costing, code, covers[code]) for code in sorted(covers))
    costs = NO_GAPS.union(
        *(costing.figures(("dish", code)).material_gaps for code in covers),
        *(costing.material_gaps(("breakdown", each.breakdown.code)) for each in walk.balances),
        *(costing.gaps(("cut", each.output.cut)) for of in walk.balances for each in of.outputs
          if not each.is_loss and each.comes_off != 0))
    return MenuBalance(
        kitchen.settings.currency, dishes, tuple(sorted(walk.bought, key=lambda each: each.ingredient.code)),
        tuple(sorted(walk.balances, key=lambda each: each.breakdown.code)), in_order(costs | walk.gaps))


def _covered(kitchen: KitchenOnDay, costing: Costing, code: str, quantity: Fraction) -> DishCovered:
    node, costs = costing.network.nodes[costing.network.index["dish", code]], costing.figures(("dish", code))
    figures = dish_figures(kitchen.dishes[code], kitchen.settings, costs.material, costs.labour, costs.known_material)
    on_lines = None if costs.material is None else costs.material * (1 - 1 / node.material_scale)
    return DishCovered(quantity, figures, worth(quantity, on_lines))
