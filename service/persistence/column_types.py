"""Column types that keep the same values on SQLite and PostgreSQL, to the digit.

Rules that always hold: amounts are whole millionths in 64-bit integers, so that no float and no database rounding
touches money; what does not fit is refused, never rounded; days and instants are text on SQLite (ISO 8601, UTC with
six digits) and native on PostgreSQL. SQL never adds or multiplies amounts: ten large ones overflow 64 bits.
"""

import json
from collections.abc import Sequence
from datetime import UTC, date, datetime
from decimal import Context, Decimal, DecimalException
from functools import lru_cache
from typing import Any

from sqlalchemy import BigInteger, Date, DateTime, Dialect, Integer, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

from service.use_cases.canonical import canonical_json, instant_text

LARGEST_MILLIONTHS = 10**18 - 1
"""12 digits before the point and 6 after it: well inside 64 bits."""

_EXACT = Context(prec=60)
_MILLION = Decimal(1_000_000)


class AmountDoesNotFit(ValueError):
    """An amount with more than 12 digits before the point or 6 after it, or no number at all."""


def to_millionths(amount: Decimal) -> int:
    """The amount in whole millionths.

    Raises:  AmountDoesNotFit: nothing is ever rounded on its way into the ledger.
    Example: Decimal("14.20") is 14200000.
    """
    if not isinstance(amount, Decimal) or not amount.is_finite() or amount.adjusted() > 12:
        raise AmountDoesNotFit(f"{amount!r} is not a decimal number of at most 12 digits before the point.")
    millionths = _EXACT.multiply(amount, _MILLION)
    whole = int(millionths)
    if whole != millionths or abs(whole) > LARGEST_MILLIONTHS:
        raise AmountDoesNotFit(f"{amount} has more than 12 digits before the point or 6 after it.")
    return whole


def all_to_millionths(amounts: Sequence[Decimal | None]) -> list[int | None]:
    """Each amount in whole millionths; None stays None.

    Raises:  AmountDoesNotFit.
    """
    return _many_to_millionths(amounts) or [None if amount is None else to_millionths(amount) for amount in amounts]


def _many_to_millionths(amounts: Sequence[Decimal | None]) -> list[int | None] | None:
    """The same in a fraction of the time, where all are amounts that fit; None where one by one will tell."""
    if {*map(type, amounts)} != {Decimal}:
        return None
    try:
        millionths = [_EXACT.multiply(amount, _MILLION) for amount in amounts if amount is not None]
        if max(millionths) > LARGEST_MILLIONTHS or min(millionths) < -LARGEST_MILLIONTHS:
            return None
    except DecimalException:
        return None
    whole: list[int | None] = [int(amount) for amount in millionths]
    return whole if whole == millionths else None


@lru_cache(maxsize=65_536)
def from_millionths(whole: int) -> Decimal:
    """The amount, with no more decimals than it needs: 14200000 is Decimal("14.2"), 0 is Decimal("0")."""
    return _EXACT.divide(Decimal(whole), _MILLION)


class Millionths(TypeDecorator[Decimal]):
    """A Decimal kept as whole millionths in a 64-bit integer."""

    impl = BigInteger().with_variant(Integer(), "sqlite")
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:  # noqa: ARG002
        return None if value is None else to_millionths(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> Decimal | None:  # noqa: ARG002
        return None if value is None else from_millionths(value)


class Flag(TypeDecorator[bool]):
    """Yes or no as 1 or 0 on both engines."""

    impl = Integer
    cache_ok = True

    def process_bind_param(self, value: bool | None, dialect: Dialect) -> int | None:  # noqa: ARG002
        return None if value is None else int(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> bool | None:  # noqa: ARG002
        return None if value is None else bool(value)


class Day(TypeDecorator[date]):
    """A calendar day: DATE on PostgreSQL, ISO text on SQLite, which sorts the same."""

    impl = Date
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Text() if dialect.name == "sqlite" else Date())

    def process_bind_param(self, value: date | None, dialect: Dialect) -> date | str | None:
        if value is None or dialect.name != "sqlite":
            return value
        return value.isoformat()

    def process_result_value(self, value: date | str | None, dialect: Dialect) -> date | None:  # noqa: ARG002
        return to_day(value)


class Instant(TypeDecorator[datetime]):
    """A moment in UTC, to the microsecond: TIMESTAMP WITH TIME ZONE on PostgreSQL, ISO text on SQLite."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Text() if dialect.name == "sqlite" else DateTime(timezone=True))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | str | None:
        if value is None:
            return None
        return instant_text(value) if dialect.name == "sqlite" else value.astimezone(UTC)

    def process_result_value(self, value: datetime | str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        return to_instant(value)


class JsonText(TypeDecorator[Any]):
    """A small free list as canonical JSON text; None is NULL. Tuples come back as lists."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ARG002
        return None if value is None else canonical_json(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ARG002
        return None if value is None else json.loads(value)


@lru_cache(maxsize=8_192)
def to_day(value: date | str | None) -> date | None:
    """The day as either driver gives it: one object for all rows of a day, since thousands are kept in memory."""
    return date.fromisoformat(value) if isinstance(value, str) else value


def to_instant(value: datetime | str | None) -> datetime | None:
    """The moment as either driver gives it, in UTC."""
    if value is None:
        return None
    return (datetime.fromisoformat(value) if isinstance(value, str) else value).astimezone(UTC)
