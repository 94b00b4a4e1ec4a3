"""The business day: the day that a moment belongs to where the kitchen stands.

A day starts at an hour of the kitchen's choosing (bars close after midnight) on the wall clock of its time zone.
Rules that always hold: as time goes on the business day never goes back, also when the clock is set back; where the
clock jumps over the start, the day starts with the jump.

Source: time zones by the IANA database, through the standard library's zoneinfo.
"""

from bisect import bisect_left
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2999, 12, 31)
"""The days that a record may name."""


def business_day(now: datetime, time_zone: str, start: str) -> date:
    """The business day of an aware moment; `start` is HH:MM on the wall clock of `time_zone`.

    Raises:  ZoneInfoNotFoundError, ValueError for a zone or a start that is none.
    Example: 01:30 in London with a start of 04:00 still belongs to yesterday.
    """
    zone = ZoneInfo(time_zone)
    local = now.astimezone(zone)
    begins = time.fromisoformat(start)
    if local.time() >= begins:
        return local.date()
    # When the clock is set back over the start, its hour comes twice: the day began with the first of them.
    first_start = datetime.combine(local.date(), begins, tzinfo=zone).astimezone(UTC)
    return local.date() if now >= first_start else local.date() - timedelta(days=1)


def beginning_of(day: date, time_zone: str, start: str) -> datetime:
    """The moment, in UTC and to the second, at which a business day begins.

    Found by bisection, since the business day never goes back: so it is right also where the clock is set.

    Raises:  ZoneInfoNotFoundError, ValueError for a zone or a start that is none.
    Example: 30 March 2026 begins at 03:00 UTC in London with a start of 04:00: summer time began the day before.
    """
    first = datetime.combine(day, time(), tzinfo=UTC) - timedelta(days=1)
    seconds = bisect_left(range(3 * 86_400), day, key=lambda passed: business_day(
        first + timedelta(seconds=passed), time_zone, start))
    return first + timedelta(seconds=seconds)
