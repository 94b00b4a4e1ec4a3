"""When a business day began, by the clock that the kitchen keeps."""

from datetime import date, datetime

from service.domain.business_day import beginning_of
from service.domain.kitchen import Kitchen


def day_began(kitchen: Kitchen, day: date) -> datetime:
    """The moment, in UTC, at which a business day began; by the settings of that day."""
    settings = kitchen.settings_on(day)
    return beginning_of(day, settings.time_zone, settings.business_day_start)
