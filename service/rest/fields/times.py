"""Fields of time: a calendar day, and an instant.

One form each, matched as ASCII before the calendar is asked; both lie between the first day and the last that the
ledger keeps.

Source: RFC 3339 section 5.6 (full-date, date-time).
"""

import re
from datetime import UTC, date, datetime
from typing import Any

from service.domain.business_day import FIRST_DAY, LAST_DAY
from service.rest.fields.exact_field import ExactField

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?(Z|[+-][0-9]{2}:[0-9]{2})",
                     re.ASCII)


class Day(ExactField):
    """A calendar day, RFC 3339 full-date: 2026-01-05."""

    def read(self, value: Any) -> date:
        try:
            day = date.fromisoformat(value) if isinstance(value, str) and _DAY.fullmatch(value) else None
        except ValueError:
            day = None
        if day is None:
            raise self.refusal("not-a-date", "Give a day that exists as YYYY-MM-DD, such as '2026-01-05'.")
        if not FIRST_DAY <= day <= LAST_DAY:
            raise self.refusal("not-a-date", f"Give a day from {FIRST_DAY} to {LAST_DAY}.")
        return day

    def write(self, value: Any) -> str | None:
        return value.isoformat() if isinstance(value, date) else value


class Moment(ExactField):
    """An instant, RFC 3339 date-time with its offset; always in UTC with Z in answers."""

    def read(self, value: Any) -> datetime:
        try:
            moment = datetime.fromisoformat(value) if isinstance(value, str) and _MOMENT.fullmatch(value) else None
            moment = moment and moment.astimezone(UTC)
        except (ValueError, OverflowError):
            moment = None
        if moment is None or not FIRST_DAY <= moment.date() <= LAST_DAY:
            raise self.refusal("not-a-date-time", "Give an instant with its offset, such as '2026-01-05T10:00:00Z'.")
        return moment

    def write(self, value: Any) -> str | None:
        if not isinstance(value, datetime):
            return value
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
