"""The kitchen's settings: currency, business day, tax, labour rate, targets. Dated, as all that moves figures is.

What a price review asks for (its limits, and which period is closed) is not dated: it is decided by when it was said.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class SectionTarget:
    """What the dishes of one section of the menu aim at, where they have no target of their own."""

    section: str
    target_food_cost_percent: Decimal


@dataclass(frozen=True, slots=True)
class KitchenSettings:
    """The settings as recorded; the defaults hold until a kitchen records its own.

    Units: `labour_rate_per_hour` is fully loaded, None is not known (which is not zero); `business_day_start` is
    HH:MM in `time_zone`; `price_step` None is the currency's minor unit. `price_change_limit_percent` is of the price
    in force, `price_deviation_limit` in median absolute deviations of the last year's prices: a new price further off
    than either is asked about. `closed_through` is the last day whose figures nothing may change; None: none is.
    Shape: `section_targets` names each section once, as dishes write it.
    """

    UNDATED: ClassVar[tuple[str, ...]] = (
        "currency", "time_zone", "business_day_start", "price_change_limit_percent", "price_deviation_limit",
        "closed_through")

    currency: str = "EUR"
    time_zone: str = "UTC"
    business_day_start: str = "00:00"
    default_tax_rate_percent: Decimal = Decimal(0)
    menu_prices_include_tax: bool = True
    labour_rate_per_hour: Decimal | None = None
    default_target_food_cost_percent: Decimal = Decimal(30)
    price_step: Decimal | None = None
    scale_tolerance_percent: Decimal = Decimal("0.5")
    price_change_limit_percent: Decimal = Decimal(25)
    price_deviation_limit: Decimal = Decimal(3)
    closed_through: date | None = None
    section_targets: tuple[SectionTarget, ...] = ()

    def section_target_percent(self, section: str) -> Decimal | None:
        """The target of a section of the menu; None where it has none."""
        return next((one.target_food_cost_percent for one in self.section_targets if one.section == section), None)
