"""The kitchen's settings: currency, business day, tax, labour rate, targets. Dated, as all that moves figures is."""

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class KitchenSettings:
    """The settings as recorded; the defaults hold until a kitchen records its own.

    Units: `labour_rate_per_hour` is fully loaded, None is not known (which is not zero); `business_day_start` is
    HH:MM in `time_zone`; `price_step` None is the currency's minor unit.
    """

    UNDATED: ClassVar[tuple[str, ...]] = ("currency", "time_zone", "business_day_start")

    currency: str = "EUR"
    time_zone: str = "UTC"
    business_day_start: str = "00:00"
    default_tax_rate_percent: Decimal = Decimal(0)
    menu_prices_include_tax: bool = True
    labour_rate_per_hour: Decimal | None = None
    default_target_food_cost_percent: Decimal = Decimal(30)
    price_step: Decimal | None = None
    scale_tolerance_percent: Decimal = Decimal("0.5")
