"""The whole menu, compiled once and costed for any prices: what every dish publishes.

A kitchen that differs in its prices alone compiles to the same lines and sells on the same terms, so that a new price
costs one sweep. Every published digit equals that of the exact cascade.
"""

from dataclasses import dataclass
from typing import Any

from service.domain.kitchen import KitchenOnDay
from service.domain.menu import dish_figures
from service.domain.menu_terms import MenuTerms
from service.domain.network import NIL, Network
from service.domain.published_menu import PublishedDishes, published_dishes
from service.domain.sweep import CompiledSweep, sweep
from service.domain.unit_prices import UnitPrices

MOVED_BY_PRICES = frozenset((
    "status", "food_cost", "known_food_cost", "labour_cost", "food_cost_percent", "gross_profit",
    "gross_profit_percent", "target_menu_price", "within_target"))


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
        return cls(compiled, terms, tuple(_standing(kitchen, code) for code in terms.codes))

    def published(self, network: Network) -> PublishedDishes:
        """What the dishes publish at the prices of a network of the same lines."""
        order = self.compiled.shape.order[:self.compiled.shape.prices]
        ingredients = [network.nodes[index] for index in order]
        prices = UnitPrices.of([None if node.material_gaps else node.material for node in ingredients])
        return published_dishes(sweep(self.compiled, prices), self.terms)


def _standing(kitchen: KitchenOnDay, code: str) -> dict[str, Any]:
    figures = dish_figures(kitchen.dishes[code], kitchen.settings, None, None, NIL)
    return {name: value for name, value in figures.as_published().items() if name not in MOVED_BY_PRICES}
