"""The costs of one day after another: what changes between two days is costed anew, the rest is taken over."""

from collections.abc import Set
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from service.domain.cascade import Costing, Figures, cascade
from service.domain.compile import compile_network, repriced
from service.domain.ingredient_weights import DISH, INGREDIENT, LineWeights
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.network import Network

POOL = "breakdown"


@dataclass(frozen=True, slots=True)
class StandingCosts:
    """The kitchen on a day, its network, its costs, and what every ingredient weighs by its lines."""

    kitchen: KitchenOnDay
    network: Network
    costing: Costing
    weights: LineWeights

    @classmethod
    def on(cls, kitchen: Kitchen, day: date) -> "StandingCosts":
        """The costs of a day, from nothing."""
        standing = kitchen.on(day)
        network = compile_network(standing)
        return cls(standing, network, cascade(network), LineWeights(network))

    def moved_to(self, kitchen: Kitchen, day: date, changes: Set[str | None]) -> "StandingCosts":
        """The costs of the next day of change, as `days_of_change` tells it for the same kitchen.

        Exact:   equal to those from nothing. Where only prices change, what stands above none of those ingredients is
                 taken over: the very same figures.
        """
        if None in changes:
            return StandingCosts.on(kitchen, day)
        priced = {code for code in changes if code is not None}
        standing = replace(self.kitchen, day=day)
        network = repriced(self.network, standing, priced)
        changed = {self.network.index[INGREDIENT, code] for code in priced if (INGREDIENT, code) in self.network.index}
        return StandingCosts(standing, network, self.costing.recosted(network, changed), self.weights)

    def figures(self, dish: str) -> Figures | None:
        """All that is known of a portion of a dish; None when it does not stand that day."""
        return self.costing.figures((DISH, dish)) if dish in self.kitchen.dishes else None

    def pools(self) -> list[bool | None]:
        """Of every breakdown's pool of material, in order: whether it is below zero; None where it is not known."""
        materials = (self.costing.material(key) for key in self.network.index if key[0] == POOL)
        return [None if material is None else material < 0 for material in materials]

    def food_cost(self, dish: str) -> Fraction | None:
        """Material per portion; None when it is not known, or the dish does not stand."""
        figures = self.figures(dish)
        return None if figures is None else figures.material
