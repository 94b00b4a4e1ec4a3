"""What would mend a dish that is outside its target: another menu price, smaller portions, or a cheaper ingredient;
each alone, everything else as it is.

    menu price       the target menu price: the least, in the kitchen's steps, at which the exact food cost is within it
    portions         how many the same lines would have to serve: the least, to the 6 decimals of a record
    unit price       how dear an ingredient may be at most: the largest, to 4 decimals (`leaving_price`)

Rules that always hold: with a mend in place the published percent is within the published target; with one step less
of portions, or 0.0001 more of a price, it is not. What cannot mend the dish alone is None, or is not listed.
"""

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from service.domain.cascade import Costing
from service.domain.dish import Dish
from service.domain.ingredient_weights import ingredient_weights
from service.domain.kitchen_settings import KitchenSettings
from service.domain.leaving_price import LowestPrices, leaving_price, outside_from
from service.domain.menu import target_menu_price, terms_of
from service.domain.network import NIL

MILLION = 10**6
MOST_PORTIONS = 10**12


@dataclass(frozen=True, slots=True)
class PriceMend:
    """The unit price of one ingredient that mends the dish alone, and what it is now. Money per base unit.

    Shape:   `broken_down` says whether it is a primal, which some breakdown in use breaks down.
    """

    ingredient: str
    unit_price: Fraction
    unit_price_now: Fraction
    broken_down: bool

    @property
    def change(self) -> Fraction:
        """By what part of today's price it would have to fall; nil or below."""
        return (self.unit_price - self.unit_price_now) / self.unit_price_now if self.unit_price_now else NIL


@dataclass(frozen=True, slots=True)
class Mends:
    """What mends a dish, each alone. `portion` is how much of today's portion is left, as a fraction."""

    menu_price: Fraction | None
    portions: Decimal | None
    portion: Fraction | None
    prices: tuple[PriceMend, ...]


class Mending:
    """The mends of the dishes of one kitchen. `primals` are the ingredients that something breaks down."""

    def __init__(self, costing: Costing, settings: KitchenSettings, primals: Collection[str]) -> None:
        self._costing, self._settings, self._primals = costing, settings, primals
        self._lowest = LowestPrices(costing)

    def of(self, dish: Dish) -> Mends | None:
        """What mends the dish; None when it is within its target, or has no percent to hold against it."""
        material = self._costing.material(("dish", dish.code))
        outside = outside_from(dish, self._settings)
        if material is None or outside is None or material < outside:
            return None
        portions = _portions(dish, material, outside)
        return Mends(
            menu_price=target_menu_price(material, terms_of(dish, self._settings)), portions=portions,
            portion=None if portions is None else Fraction(dish.portions) / Fraction(portions),
            prices=self._prices(dish, material))

    def _prices(self, dish: Dish, material: Fraction) -> tuple[PriceMend, ...]:
        """Those of the ingredients that can mend it, the one that would have to fall least first."""
        found = []
        for code, weight in ingredient_weights(self._costing.network, ("dish", dish.code)).items():
            now = self._costing.material(("ingredient", code))
            if now is not None and weight > 0:
                lowest = self._lowest.in_dishes(code).get(dish.code, NIL)
                price = leaving_price(dish, self._settings, material, weight, now, lowest)
                if price is not None:
                    found.append(PriceMend(code, price, now, code in self._primals))
        return tuple(sorted(found, key=lambda mend: (-mend.change, mend.ingredient)))


def _portions(dish: Dish, material: Fraction, outside: Fraction) -> Decimal | None:
    """The least number of portions, above what the exact limit is, since at it the dish is still outside."""
    if outside <= 0:
        return None
    millionths = material * Fraction(dish.portions) / outside * MILLION // 1 + 1
    portions = Decimal(f"{millionths}E-6")
    return portions if portions < MOST_PORTIONS else None
