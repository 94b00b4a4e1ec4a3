"""Impact: everything that an ingredient reaches, and what its price does to each dish.

    way                  the shortest way from the ingredient to what it reaches; of several as short, the first by code
    part of the cost     weight x unit price, and that over the food cost: credits of by-products are taken off the food
                         cost and not off this part, so that it may be more than the whole
    one more             what 1.00 more per base unit does to the food cost (the weight itself), to the food-cost % and
                         to the gross profit: the network is linear, so it is that at every price
    leaves at, back at   the price at which the dish leaves its target, or from which down it is within again

Rules that always hold: what rests on an unknown food cost is None, and `reason` says why a dish has no such price; what
an ingredient reaches it need not move: a by-product enters at its credit value, a cut may carry nothing of the cost.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from service.domain.cascade import Costing
from service.domain.dish import Dish
from service.domain.ingredient_weights import DISH, INGREDIENT, LineWeights
from service.domain.kitchen import KitchenOnDay
from service.domain.leaving_price import LowestPrices, leaving_price
from service.domain.menu import DishFigures, dish_figures
from service.domain.network import NIL, Key
from service.domain.uses import Uses

HUNDRED = 100


class Reason(StrEnum):
    """Why there is no price at which a dish leaves its target."""

    INCOMPLETE = "incomplete"
    NO_MENU_PRICE = "no_menu_price"
    NOT_MOVED = "not_moved"
    OUTSIDE_TARGET = "outside_target"
    NO_SUCH_PRICE = "no_such_price"


@dataclass(frozen=True, slots=True)
class Reached:
    """Something that the ingredient goes into, directly or through others.

    Shape:   `way` leads from the ingredient to it, both named.
    Units:   `weight` is what 1.00 more per base unit adds to its material, per kg of a cut (of a breakdown: of its
             input), per base unit of what a recipe makes, per portion of a dish; None while that is not known.
    """

    key: Key
    way: tuple[Key, ...]
    weight: Fraction | None


@dataclass(frozen=True, slots=True)
class DishImpact:
    """What the ingredient is to one dish, exactly; money per portion. None is not known, or has no meaning."""

    reached: Reached
    figures: DishFigures
    part: Fraction | None
    leaves_at: Fraction | None
    back_at: Fraction | None
    reason: Reason | None

    @property
    def part_percent(self) -> Fraction | None:
        """Its part of the food cost; None of a food cost of nil."""
        return _over(self.part, self.figures.food_cost)

    @property
    def percent_of_one_more(self) -> Fraction | None:
        """How many points 1.00 more per base unit adds to the food-cost %."""
        return None if self.figures.food_cost_percent is None else _over(
            self.reached.weight, self.figures.price_before_tax)

    @property
    def gross_profit_of_one_more(self) -> Fraction | None:
        """What 1.00 more per base unit does to the gross profit: it takes the weight off."""
        weight = self.reached.weight
        return None if self.figures.gross_profit is None or weight is None else -weight


@dataclass(frozen=True, slots=True)
class Impact:
    """All that an ingredient reaches, each kind by code.

    Units:   `unit_price` is money per base unit, None when no price decides.
    """

    unit_price: Fraction | None
    breakdowns: tuple[Reached, ...]
    cuts: tuple[Reached, ...]
    recipes: tuple[Reached, ...]
    dishes: tuple[DishImpact, ...]


def impact_of(ingredient: str, kitchen: KitchenOnDay, costing: Costing, users: Uses, weights: LineWeights) -> Impact:
    """What the ingredient reaches; `users` says what uses what (`users_of`), `weights` are those of the same network.

    Raises:  KeyError for an ingredient that does not stand.
    """
    ways = ways_from((INGREDIENT, ingredient), users)
    weighing = weights.in_all(ingredient)
    found = [Reached(key, way, _weight(key, costing, weighing)) for key, way in sorted(ways.items())]
    unit_price = costing.material((INGREDIENT, ingredient))
    lowest = LowestPrices(costing).in_dishes(ingredient)
    dishes = tuple(_dish(reached, kitchen, costing, unit_price, lowest) for reached in found if reached.key[0] == DISH)
    breakdowns, cuts, recipes = (tuple(reached for reached in found if reached.key[0] == kind)
                                 for kind in ("breakdown", "cut", "recipe"))
    return Impact(unit_price, breakdowns, cuts, recipes, dishes)


def ways_from(start: Key, users: Uses) -> dict[Key, tuple[Key, ...]]:
    """The shortest way to everything that stands above, the start not among them. Never recurses, loops or not."""
    ways: dict[Key, tuple[Key, ...]] = {start: (start,)}
    waiting = [start]
    for key in waiting:
        for user in sorted(users.get(key, ())):
            if user not in ways:
                ways[user] = (*ways[key], user)
                waiting.append(user)
    del ways[start]
    return ways


def _weight(key: Key, costing: Costing, weighing: Mapping[Key, Fraction]) -> Fraction | None:
    """A breakdown that is not in use has no figure that a price could move."""
    if key not in costing.network.index or costing.material(key) is None:
        return None
    return weighing.get(key, NIL)


def _dish(reached: Reached, kitchen: KitchenOnDay, costing: Costing, unit_price: Fraction | None,
          lowest: Mapping[str, Fraction]) -> DishImpact:
    dish, costs = kitchen.dishes[reached.key[1]], costing.figures(reached.key)
    figures = dish_figures(dish, kitchen.settings, costs.material, costs.labour, costs.known_material)
    weight = reached.weight
    if costs.material is None or weight is None:
        return DishImpact(reached, figures, None, None, None, Reason.INCOMPLETE)
    part = weight * unit_price if weight and unit_price is not None else NIL
    reason = _reason(dish, weight)
    if reason is not None or unit_price is None:
        return DishImpact(reached, figures, part, None, None, reason)
    price = leaving_price(dish, kitchen.settings, costs.material, weight, unit_price, lowest.get(dish.code, NIL))
    if not figures.within_target:
        return DishImpact(reached, figures, part, None, price, Reason.OUTSIDE_TARGET)
    return DishImpact(reached, figures, part, price, None, Reason.NO_SUCH_PRICE if price is None else None)


def _reason(dish: Dish, weight: Fraction) -> Reason | None:
    if not dish.menu_price:
        return Reason.NO_MENU_PRICE
    return None if weight else Reason.NOT_MOVED


def _over(part: Fraction | None, whole: Fraction | None) -> Fraction | None:
    return None if part is None or not whole else part / whole * HUNDRED
