"""Labour: minutes at the kitchen's fully loaded rate. Without a rate, minutes have no cost, which is not zero."""

from decimal import Decimal
from fractions import Fraction

from service.domain.findings import Gap
from service.domain.kitchen_settings import KitchenSettings

NO_LABOUR_RATE = Gap(
    "no_labour_rate", "settings", "settings",
    "The settings have no labour_rate_per_hour, so that minutes have no cost: record one (0 is a rate).")


def labour_cost(minutes: Decimal, settings: KitchenSettings) -> Fraction | None:
    """What the minutes cost; no minutes cost nothing, whatever the rate. None without a rate.

    Example: 3 minutes at 24.00 an hour are 1.20.
    """
    if minutes == 0:
        return Fraction(0)
    if settings.labour_rate_per_hour is None:
        return None
    return Fraction(minutes) * Fraction(settings.labour_rate_per_hour) / 60
