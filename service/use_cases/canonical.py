"""Canonical JSON: one text for one value, so that its hash means something.

Rules that always hold: keys sorted by code point, no blanks, no escapes but those that JSON demands, decimals as
plain text without exponent or trailing zeros, days and moments per RFC 3339 (moments in UTC with six digits). Floats
are refused: money never passes through one. The text never holds a raw line end.
"""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any


def canonical_json(value: Any) -> str:
    """The canonical text of a value made of mappings, sequences, text, whole numbers, decimals, days and moments.

    Raises:  TypeError for a float or anything else that has no canonical form, ValueError for text that is not
             Unicode (a lone surrogate) or a decimal that is not finite.
    Example: {"b": Decimal("14.20"), "a": None} is {"a":null,"b":"14.2"}
    """
    text = json.dumps(_plain(value), ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
    text.encode("utf-8")
    return text


def decimal_text(value: Decimal) -> str:
    """The shortest plain text of a finite decimal: 14.20 is "14.2", 1E+2 is "100", minus zero is "0"."""
    if not value.is_finite():
        raise ValueError(f"{value} is not a finite number.")
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def instant_text(value: datetime) -> str:
    """The moment in UTC with six digits: `2026-11-25T08:53:24.000000Z`; text that sorts by time."""
    if value.tzinfo is None:
        raise ValueError("A moment needs its time zone.")
    return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, (str, bool, int)):
        return str(value) if isinstance(value, str) else value
    if isinstance(value, Decimal):
        return decimal_text(value)
    if isinstance(value, datetime):
        return instant_text(value)
    if isinstance(value, date):
        return value.isoformat()
    return _plain_parts(value)


def _plain_parts(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {_key(key): _plain(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    raise TypeError(f"{type(value).__name__} has no canonical form.")


def _key(key: Any) -> str:
    if not isinstance(key, str):
        raise TypeError(f"A key must be text, not {type(key).__name__}.")
    return str(key)
