"""The whole menu, compiled once and costed for any prices: what every dish publishes.

A kitchen that differs in its prices alone compiles to the same lines and sells on the same terms, so that a new price
costs one sweep. Every published digit equals that of the exact cascade.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from typing import Any

from service.domain.above import Above
from service.domain.decimal_column import DecimalColumn
from service.domain.denominators import Floats
from service.domain.dish_costs import Rows
from service.domain.kitchen import KitchenOnDay
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu import dish_figures
from service.domain.menu_terms import MenuTerms
from service.domain.network import NIL, Network, Node
from service.domain.published_above import MovedDishes, published_above
from service.domain.published_menu import PublishedDishes, food_costs, published_dishes
from service.domain.recompile import Recompiled
from service.domain.record_changes import differing
from service.domain.sweep import CompiledSweep, SweptFigures, sweep
from service.domain.sweep_many import sweep_many
from service.domain.unit_prices import UnitPrices

MOVED_BY_PRICES = frozenset((
    "status", "food_cost", "known_food_cost", "labour_cost", "food_cost_percent", "gross_profit",
    "gross_profit_percent", "target_menu_price", "within_target"))

FEW, PART = 100, 4
"""Where more than so many nodes, and than one in so many, stand above a change, the whole menu is swept."""
SPARE_LINES = 100
"""Terms that no dish is sold on any more may be so many beside twice the dishes; then all are made anew."""


@dataclass(frozen=True)
class CompiledMenu:
    """The lines of all dishes and what each is sold on.

    Shape:   `standing` holds, per dish in the order of the terms' codes, the published members that no price moves.
    """

    compiled: CompiledSweep
    terms: MenuTerms
    standing: tuple[dict[str, Any], ...]

    @classmethod
    def of(cls, network: Network, kitchen: KitchenOnDay) -> "CompiledMenu":
        """Compile the menu of a kitchen."""
        compiled = CompiledSweep.of(network)
        terms = MenuTerms.of(compiled, kitchen.dishes, kitchen.settings)
        return cls(compiled, terms, tuple(standing_figures(kitchen, code) for code in terms.codes))

    def under(self, found: Recompiled, before: KitchenOnDay, kitchen: KitchenOnDay) -> "CompiledMenu":
        """The menu of `kitchen`, whose network was found anew from that of `before`, which this one is of."""
        moved = None if found.changed is None or before.settings != kitchen.settings else differing(
            before.dishes, kitchen.dishes)
        if found.changed is None or moved is None or len(self.terms.lines) > 2 * len(self.terms.codes) + SPARE_LINES:
            return CompiledMenu.of(found.network, kitchen)
        lines = {index for index in found.changed if found.network.nodes[index].kind != "ingredient"}
        if not lines and not moved:
            return self
        compiled = self.compiled.spliced(found.network, found.changed)
        terms = self.terms.under(compiled, [kitchen.dishes[code] for code in sorted(moved)], kitchen.settings)
        standing = self.standing if not moved else tuple(
            standing_figures(kitchen, code) if code in moved else row
            for code, row in zip(terms.codes, self.standing, strict=True))
        return CompiledMenu(compiled, terms, standing)

    def moved(self, before: SweptFigures, columns: PublishedDishes, kitchens: tuple[KitchenOnDay, KitchenOnDay],
              found: Recompiled, standing: Set[int]) -> MovedDishes | None:
        """What the dishes publish that can have moved from one kitchen to another, whose network was found anew, given
        how all were swept and published before, and what stands on what changed; None where all can have moved.

        Exact:   with the others as they were it is what the menu of that kitchen publishes.
        """
        was, kitchen = kitchens
        sold_otherwise = None if was.settings != kitchen.settings else differing(was.dishes, kitchen.dishes)
        network, changed = found.network, found.changed
        if changed is None or sold_otherwise is None:
            return None
        standing = standing | {network.index["dish", code] for code in sold_otherwise}
        above = None if _most(standing, network) else Above.of(
            self.compiled, network, changed, standing)
        dishes = [kitchen.dishes[code] for code in sorted(sold_otherwise)]
        return None if above is None else published_above(
            above, before, columns, lambda *of: self.terms.at(of[0], dishes, kitchen.settings, *of[1:]), [{}])

    def moved_at(self, before: SweptFigures, columns: PublishedDishes,
                 prices: Sequence[Mapping[int, Node]]) -> MovedDishes | None:
        """What the dishes publish, of those that can move, where some ingredients (by index) are at other prices: at
        each of a series of them; None where most move."""
        network, moved = before.compiled.network, {index for each in prices for index in each}
        standing = network.standing_on(moved)
        above = None if _most(standing, network) else Above.of(before.compiled, network, moved, standing)
        return None if above is None else published_above(above, before, columns, self._terms_of, prices)

    def _terms_of(self, rows: Rows, roundings: Floats, negative: Floats) -> MenuTerms:
        return self.terms.at(rows, (), KitchenSettings(), roundings, negative)

    def swept_at(self, prices: UnitPrices) -> SweptFigures:
        """What everything costs at these prices."""
        return sweep(self.compiled, prices)

    def published(self, network: Network) -> PublishedDishes:
        """What the dishes publish at the prices of a network of the same lines."""
        return self.published_at(self.compiled.prices_of(network))

    def published_at(self, prices: UnitPrices) -> PublishedDishes:
        """What the dishes publish at these prices."""
        return self.published_of(self.swept_at(prices))

    def published_of(self, figures: SweptFigures) -> PublishedDishes:
        """What the dishes publish that cost so much."""
        return published_dishes(figures, self.terms)

    def published_many(self, prices: Iterable[UnitPrices]) -> Iterator[PublishedDishes]:
        """What the dishes publish at each of many sets of prices, in their order.

        Exact:   each as `published_at` has it, digit for digit.
        """
        return (published_dishes(figures, self.terms) for figures in sweep_many(self.compiled, prices))

    def food_costs_many(self, prices: Iterable[UnitPrices]) -> Iterator[DecimalColumn]:
        """The published food cost of every dish at each of many sets of prices, and nothing else."""
        return (food_costs(figures) for figures in sweep_many(self.compiled, prices))


def _most(standing: Set[int], network: Network) -> bool:
    return len(standing) > FEW + len(network.nodes) // PART


def standing_figures(kitchen: KitchenOnDay, code: str) -> dict[str, Any]:
    """The published members of a dish that no price moves."""
    figures = dish_figures(kitchen.dishes[code], kitchen.settings, None, None, NIL)
    return {name: value for name, value in figures.as_published().items() if name not in MOVED_BY_PRICES}
