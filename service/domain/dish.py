"""A dish: what the menu sells."""

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

from service.domain.recipe import Line

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Dish:
    """A dish as recorded. Lines and `labour_minutes` are for all `portions`.

    Units: `menu_price` in the kitchen's currency, a portion; None is a dish that is not priced. A tax rate or target
    of None takes the kitchen's setting.
    """

    UNDATED: ClassVar[tuple[str, ...]] = ("name", "section", "pos_code")

    code: str
    name: str
    portions: Decimal
    lines: tuple[Line, ...]
    section: str = ""
    allowance_percent: Decimal = ZERO
    labour_minutes: Decimal = ZERO
    menu_price: Decimal | None = None
    tax_rate_percent: Decimal | None = None
    target_food_cost_percent: Decimal | None = None
    pos_code: str | None = None
