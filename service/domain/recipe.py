"""A recipe: a preparation that makes a quantity of something. Recipes nest and cannot contain themselves."""

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

from service.domain.quantity import Conversion

HUNDRED = Decimal(100)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a recipe or dish. Exactly one of ingredient, cut and recipe is named.

    `quantity` is what goes into the pot (as purchased) or, with yields, what is left after them. Percents may
    exceed 100 (rice, pulses, brined meat) and are above zero.
    """

    quantity: Decimal
    unit: str
    ingredient: str | None = None
    cut: str | None = None
    recipe: str | None = None
    yield_percent: Decimal = HUNDRED
    cooking_yield_percent: Decimal = HUNDRED
    note: str = ""

    @property
    def uses(self) -> tuple[str, str]:
        """Kind and code of what the line uses."""
        if self.ingredient is not None:
            return ("ingredient", self.ingredient)
        if self.cut is not None:
            return ("cut", self.cut)
        return ("recipe", self.recipe or "")


@dataclass(frozen=True, slots=True)
class Recipe:
    """A recipe as recorded. Makes `makes_quantity` of `makes_unit` with `labour_minutes` in all."""

    UNDATED: ClassVar[tuple[str, ...]] = ("name", "conversions")

    code: str
    name: str
    makes_quantity: Decimal
    makes_unit: str
    lines: tuple[Line, ...]
    labour_minutes: Decimal = Decimal(0)
    conversions: tuple[Conversion, ...] = ()
    note: str = ""
