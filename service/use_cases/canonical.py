"""Canonical JSON: one text for one value, so that its hash means something.

Rules that always hold: keys sorted by code point, no blanks, no escapes but those that JSON demands, decimals as
plain text without exponent or trailing zeros, days and moments per RFC 3339 (moments in UTC with six digits). Floats
are refused: money never passes through one. The text never holds a raw line end.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from json.encoder import encode_basestring
from operator import itemgetter
from typing import Any


def canonical_json(value: Any) -> str:
    """The canonical text of a value made of mappings, sequences, text, whole numbers, decimals, days and moments.

    Raises:  TypeError for a float or anything else that has no canonical form, ValueError for text that is not
             Unicode (a lone surrogate) or a decimal that is not finite.
    Example: {"b": Decimal("14.20"), "a": None} is {"a":null,"b":"14.2"}
    """
    text = _text(value)
    text.encode("utf-8")
    return text


def canonical_texts(values: Sequence[Mapping[str, Any]]) -> list[str]:
    """The canonical text of each mapping: much faster than one by one where many have the same keys.

    Raises:  As canonical_json.
    """
    alike: dict[tuple[str, ...], list[int]] = {}
    for place, value in enumerate(values):
        alike.setdefault(tuple(value), []).append(place)
    texts = [""] * len(values)
    for names, places in alike.items():
        for place, text in zip(places, _alike([values[place] for place in places], names), strict=True):
            texts[place] = text
    "\n".join(texts).encode("utf-8")
    return texts


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


def _text(value: Any) -> str:
    write = _WRITERS.get(type(value))
    return _other_text(value) if write is None else write(value)


def _object_text(value: Mapping[Any, Any]) -> str:
    named = sorted([(_key(key), part) for key, part in value.items()], key=itemgetter(0))
    return "{" + ",".join([f"{encode_basestring(key)}:{_text(part)}" for key, part in named]) + "}"


def _array_text(value: Sequence[Any]) -> str:
    return "[" + ",".join([_text(part) for part in value]) + "]"


def _decimal_text(value: Decimal) -> str:
    return f'"{decimal_text(value)}"'


def _instant_text(value: datetime) -> str:
    return f'"{instant_text(value)}"'


def _day_text(value: date) -> str:
    return f'"{value.isoformat()}"'


_WRITERS: dict[type, Callable[[Any], str]] = {
    str: encode_basestring,
    int: int.__repr__,
    bool: lambda value: "true" if value else "false",
    type(None): lambda _value: "null",
    Decimal: _decimal_text,
    datetime: _instant_text,
    date: _day_text,
    dict: _object_text,
    list: _array_text,
    tuple: _array_text,
}


def _other_text(value: Any) -> str:
    """What is written like one of the types above: a word of an enumeration, a record, another kind of mapping."""
    if isinstance(value, str):
        return encode_basestring(str(value))
    for kind in (int, Decimal, datetime, date, list, tuple):
        if isinstance(value, kind):
            return _WRITERS[kind](value)
    if isinstance(value, Mapping):
        return _object_text(value)
    if is_dataclass(value) and not isinstance(value, type):
        return _object_text({field.name: getattr(value, field.name) for field in fields(value)})
    raise TypeError(f"{type(value).__name__} has no canonical form.")


def _key(key: Any) -> str:
    if not isinstance(key, str):
        raise TypeError(f"A key must be text, not {type(key).__name__}.")
    return str(key)


def _alike(values: Sequence[Mapping[str, Any]], names: Iterable[str]) -> list[str]:
    """Mappings with the same keys: written column by column into one form; what all say is written once."""
    form: list[str] = []
    columns: list[Sequence[str]] = []
    for name, key in sorted([(_key(key), key) for key in names], key=itemgetter(0)):
        column = [value[key] for value in values]
        kinds = {*map(type, column)}
        said = f"{encode_basestring(name)}:".replace("%", "%%")
        if len(kinds) == 1 and kinds <= _SAME_WHEN_EQUAL and column.count(column[0]) == len(column):
            form.append(said + _text(column[0]).replace("%", "%%"))
        else:
            form.append(said + "%s")
            columns.append(list(map(_WRITERS.get(kinds.pop(), _text) if len(kinds) == 1 else _text, column)))
    whole = "{" + ",".join(form) + "}"
    return list(map(whole.__mod__, zip(*columns, strict=True))) if columns else [whole % ()] * len(values)


_SAME_WHEN_EQUAL = {str, int, bool, type(None), Decimal, date}
"""Types whose equal values have the same text: not so for moments, lists or mappings, where 1 equals True."""
