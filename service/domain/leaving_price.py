"""The price at which a dish leaves its target: how dear an ingredient may become, everything else as it is.

    food cost at unit price p   = food cost now + weight x (p - unit price now)            (see ingredient_weights)
    within target               = published food-cost % at most the published target, so the exact one is below
                                  target + half of the last published decimal
    leaving price               = the largest p, to 4 decimals, at which the dish is within; 0.0001 more is outside

Rules that always hold: it is told from exact figures, so the published percent at it, and beside it, is the one that
says so; a credit of a by-product is a part of the food cost that does not move; below the price at which the credits of
a breakdown exceed what its input costs a dish has no figure, and so is not within.
"""

from collections.abc import Mapping
from fractions import Fraction
from math import ceil

from service.domain.cascade import Costing
from service.domain.dish import Dish
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu import terms_of
from service.domain.network import NIL, ONE, Node
from service.domain.rounding import PERCENT_PLACES, UNIT_COST_PLACES, published

STEPS = 10**UNIT_COST_PLACES
HALF_OF_THE_LAST_DECIMAL = Fraction(1, 2 * 10**PERCENT_PLACES)
INGREDIENT, BREAKDOWN, DISH = "ingredient", "breakdown", "dish"


def leaving_price(
    dish: Dish, settings: KitchenSettings, material: Fraction, weight: Fraction, unit_price: Fraction,
    lowest: Fraction = NIL,
) -> Fraction | None:
    """The largest unit price, to 4 decimals, at which the dish is within its target. It may lie above today's price or
    below it (the dish is outside then, and would be back at it).

    Units:   `material` is the food cost per portion at `unit_price`, money per base unit; `weight` what one more unit
             of money per base unit makes of it; `lowest` the unit price below which the dish has no food cost (see
             `LowestPrices`).
    Shape:   None where no price decides it: the ingredient weighs nothing, the dish has no menu price or one of zero,
             or no price from `lowest` up is low enough.
    Example: 4.1898 at 22.00 with 20 % tax and a target of 30 % may become less than 5.50092: weighing 0.2731, of a kg
             at 14.20, that leaves room for 4.8012 more.
    """
    outside = outside_from(dish, settings)
    if weight <= 0 or outside is None:
        return None
    largest = Fraction(ceil((unit_price + (outside - material) / weight) * STEPS) - 1, STEPS)
    return largest if largest >= max(lowest, NIL) else None


def outside_from(dish: Dish, settings: KitchenSettings) -> Fraction | None:
    """The food cost per portion from which on the dish is outside its target: below it, it is within. None without a
    menu price, or with one of zero."""
    if not dish.menu_price:
        return None
    terms = terms_of(dish, settings)
    percent = Fraction(published(terms.target * 100, PERCENT_PLACES)) + HALF_OF_THE_LAST_DECIMAL
    return Fraction(dish.menu_price) / (1 + terms.tax) * percent / 100


class LowestPrices:
    """How low the price of an ingredient may become before the dishes above it have no food cost any more, one
    ingredient at a time, as it is asked."""

    def __init__(self, costing: Costing) -> None:
        self._costing = costing
        self._found: dict[str, Mapping[str, Fraction]] = {}

    def in_dishes(self, ingredient: str) -> Mapping[str, Fraction]:
        """By dish, the unit price at which a breakdown between the two has nothing left to share: below it the dish
        has no food cost. Dishes that have one at every price are not in it, nor is anything when the ingredient has
        no price."""
        if ingredient not in self._found:
            self._found[ingredient] = self._passed_up(ingredient)
        return self._found[ingredient]

    def _passed_up(self, ingredient: str) -> dict[str, Fraction]:
        nodes, start = self._costing.network.nodes, self._costing.network.index.get((INGREDIENT, ingredient))
        unit_price = None if start is None else self._costing.material((INGREDIENT, ingredient))
        if start is None or unit_price is None:
            return {}
        above = self._costing.network.standing_on([start])
        if not any(nodes[index].kind == BREAKDOWN for index in above):
            return {}  # most ingredients: a menu of thousands of dishes asks for all of them
        weights, lowest = {start: ONE}, {start: NIL}
        for index in sorted(above - {start}):
            self._take(index, nodes[index], unit_price, weights, lowest)
        return {nodes[index].code: price for index, price in lowest.items() if price and nodes[index].kind == DISH}

    def _take(self, index: int, node: Node, unit_price: Fraction, weights: dict[int, Fraction],
              lowest: dict[int, Fraction]) -> None:
        """What the ingredient weighs in a node, as far as pools go, and from which price the node has a figure."""
        below = [edge for edge in node.edges if edge.child in lowest]
        if not below:
            return
        lowest[index] = max(lowest[edge.child] for edge in below)
        if node.kind not in (BREAKDOWN, "cut"):
            return
        weights[index] = sum((edge.factor * weights[edge.child] for edge in below), NIL)
        material = self._costing.material(node.key) if node.kind == BREAKDOWN else None
        if material is not None and weights[index]:
            lowest[index] = max(lowest[index], unit_price - material / weights[index])
