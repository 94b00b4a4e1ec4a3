"""What every request asks first, in one statement: the head, the business day's settings, and whose key it is.

A key is looked up by the SHA-256 of the whole of it, which nobody can steer, and what was found is compared in constant
time once more: an index that took two texts for one would open nothing.
"""

import hmac
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from service.domain.business_day import business_day
from service.domain.kitchen_settings import KitchenSettings
from service.persistence.access_keys import COLUMNS, key_of
from service.persistence.column_types import to_day
from service.persistence.engines import Engines
from service.use_cases.ledger_unavailable import LedgerNotMigrated
from service.use_cases.ports import AccessKey, Head

_KEY = ", ".join(f"k.{column}" for column in (*COLUMNS, "secret_hash"))
_NO_KEY = (None,) * len(COLUMNS)
_NOBODYS = "0" * 64
_ASKED = f"""
SELECT h.revision, h.on_date, h.hash, h.figures_revision, h.figures_hash, s.time_zone, s.business_day_start, {_KEY}
FROM ledger_head h
LEFT JOIN access_key k ON k.secret_hash = {{mark}}
LEFT JOIN (SELECT time_zone, business_day_start FROM kitchen_settings_version
           ORDER BY made_revision DESC, made_entry DESC LIMIT 1) s ON 1 = 1
WHERE h.id = 1
"""  # noqa: S608  (constant text)
_ASKED_OF_SQLITE, _ASKED_OF_POSTGRESQL = _ASKED.format(mark="?"), _ASKED.format(mark="%s")
_BEFORE_KEY = 7
_DEFAULTS = KitchenSettings()


@dataclass(frozen=True, slots=True)
class Standing:
    """The head, and how the kitchen counts its days as recorded last."""

    head: Head
    time_zone: str
    business_day_start: str

    def today(self, now: datetime) -> date:
        """The business day of `now`, never below the head's."""
        return max(business_day(now, self.time_zone, self.business_day_start), self.head.on_date)


def ask(engines: Engines, secret_hash: str | None) -> tuple[Standing, AccessKey | None]:
    """Head, business day and key, in one statement through the driver's own cursor.

    Raises:  LedgerUnavailable, LedgerNotMigrated.
    """
    asked = secret_hash or ""
    row = engines.quick.one(_ASKED_OF_SQLITE if engines.is_sqlite else _ASKED_OF_POSTGRESQL, (asked,))
    if row is None:
        return _read(None)
    *told, stored = row
    same = hmac.compare_digest(stored or _NOBODYS, asked)
    return _read((*told[:_BEFORE_KEY], *(told[_BEFORE_KEY:] if same else _NO_KEY)))


@lru_cache(maxsize=256)
def _read(row: tuple[Any, ...] | None) -> tuple[Standing, AccessKey | None]:
    """What a row says. Between two writes a till gets the same row at every poll, which is read once."""
    standing = standing_of(row)
    return standing, key_of(row[_BEFORE_KEY:] if row else ())


def standing_of(row: Sequence[Any] | None) -> Standing:
    """The standing of a row that begins with the head's columns, the time zone and the start of the day."""
    if row is None:
        raise LedgerNotMigrated("The ledger has no head; run `seamcost migrate` once to set it up.")
    revision, on_date, head_hash, figures_revision, figures_hash, time_zone, start = row[:7]
    head = Head(revision, to_day(on_date) or date.min, head_hash, figures_revision, figures_hash)
    return Standing(head, time_zone or _DEFAULTS.time_zone, start or _DEFAULTS.business_day_start)
