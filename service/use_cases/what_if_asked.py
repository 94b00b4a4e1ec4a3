"""What a what-if supposes: other prices, yields, methods, menu prices, portions, and this used instead of that.

Each names what it changes; what it leaves out stays as it is on the day.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from service.domain.breakdown import Method
from service.domain.network import Key


@dataclass(frozen=True, slots=True)
class PricesMove:
    """Prices in force move by a percentage: all, or those that the filters name; several filters hold together."""

    percent: Decimal
    ingredients: tuple[str, ...] = ()
    suppliers: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OtherPrice:
    """A supplier asks another price for an ingredient."""

    ingredient: str
    supplier: str
    amount: Decimal
    pack_quantity: Decimal
    pack_unit: str


@dataclass(frozen=True, slots=True)
class OutputYield:
    """What part of a kg of input an output would be."""

    cut: str
    yield_fraction: Decimal


@dataclass(frozen=True, slots=True)
class OtherYields:
    """Some outputs of a breakdown have other yields."""

    breakdown: str
    yields: tuple[OutputYield, ...]


@dataclass(frozen=True, slots=True)
class OtherMethod:
    """A breakdown shares its joint cost by another method."""

    breakdown: str
    method: Method


@dataclass(frozen=True, slots=True)
class OtherMenuPrice:
    """A dish is sold at another price."""

    dish: str
    menu_price: Decimal


@dataclass(frozen=True, slots=True)
class MenuPricesMove:
    """Menu prices move by a percentage, each to the kitchen's nearest step: all, or those that the filters name."""

    percent: Decimal
    dishes: tuple[str, ...] = ()
    sections: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OtherPortions:
    """The lines of a dish serve another number of portions."""

    dish: str
    portions: Decimal


@dataclass(frozen=True, slots=True)
class Swap:
    """The lines of a dish or recipe that use one thing use another instead, in the same quantity unless given.

    Shape:   `owner` is ("dish" or "recipe", code); `uses` and `instead` are ("ingredient", "cut" or "recipe", code);
             quantity and unit are given together or not at all.
    """

    owner: Key
    uses: Key
    instead: Key
    quantity: Decimal | None = None
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Ramp:
    """Prices in force move in steps from one percentage to another, on top of all else that is supposed."""

    from_percent: Decimal
    to_percent: Decimal
    step_percent: Decimal
    ingredients: tuple[str, ...] = ()
    suppliers: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()

    @property
    def percents(self) -> tuple[Decimal, ...]:
        """Every step, both ends included where the step reaches them."""
        count = int((self.to_percent - self.from_percent) // self.step_percent)
        return tuple(self.from_percent + self.step_percent * step for step in range(count + 1))

    def at(self, percent: Decimal) -> PricesMove:
        """One step."""
        return PricesMove(percent, self.ingredients, self.suppliers, self.kinds)


@dataclass(frozen=True, slots=True)
class Supposition:
    """All that a what-if supposes at once, as if it were recorded in one revision."""

    prices: Sequence[PricesMove | OtherPrice] = ()
    yields: Sequence[OtherYields] = ()
    methods: Sequence[OtherMethod] = ()
    menu_prices: Sequence[OtherMenuPrice | MenuPricesMove] = ()
    portions: Sequence[OtherPortions] = ()
    swaps: Sequence[Swap] = ()
