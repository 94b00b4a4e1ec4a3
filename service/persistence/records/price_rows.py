"""The rows of a price list as text, exactly: column by column, so that ten thousand are written or read in a moment.

The text is a JSON object of the fields of `PriceRow` by name. A field is an array with a value for each row, or one
text where all rows say the same; one that no row fills is left out. Amounts are decimal text as they were, days
ISO 8601, a pack and a fault the array of their parts.
"""

import json
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from decimal import Decimal
from itertools import repeat
from typing import Any

from service.domain.price_list import PriceRow, RowFault
from service.domain.supplier_item import Pack

Column = Sequence[Any]


def rows_text(rows: Sequence[PriceRow]) -> str:
    """The rows, of which there is at least one, as text."""
    said: dict[str, Any] = {}
    for name, values in zip(PriceRow._fields, zip(*rows, strict=True), strict=True):
        written = _WRITTEN[name](values) if name in _WRITTEN else values
        if name not in _UNFILLED or not _all(written, _UNFILLED[name]):
            said[name] = _shortened(written)
    return json.dumps(said, ensure_ascii=False, separators=(",", ":"))


def rows_said(text: str) -> list[PriceRow]:
    """The rows of a text."""
    said = json.loads(text)
    size = len(said["number"])
    columns = [_read(name, said.get(name, _UNFILLED.get(name)), size) for name in PriceRow._fields]
    return list(map(PriceRow._make, zip(*columns, strict=True)))


def _all(written: Column, value: Any) -> bool:
    return written[-1] == value and written.count(value) == len(written)


def _shortened(written: Column) -> Column:
    first = written[0]
    return first if isinstance(first, str) and _all(written, first) else written


def _read(name: str, value: Any, size: int) -> Iterable[Any]:
    read = _READ.get(name)
    if isinstance(value, list) and value:
        return value if read is None else read(value)
    return repeat(value if read is None else read([value])[0], size)


def _texts(values: Column) -> Column:
    """Decimals with all their zeros."""
    return [None if value is None else str(value) for value in values]


def _decimals(values: Column) -> Column:
    return [None if value is None else Decimal(value) for value in values]


def _day_texts(values: Column) -> Column:
    return [value and value.isoformat() for value in values]


def _days(values: Column) -> Column:
    return [value and date.fromisoformat(value) for value in values]


def _pack_parts(values: Column) -> Column:
    return [pack and (pack.name, str(pack.count), str(pack.quantity), pack.unit) for pack in values]


def _packs(values: Column) -> Column:
    """A list has few packs, each on many rows."""
    parts = [value and tuple(value) for value in values]
    packs = {one: one and Pack(one[0], Decimal(one[1]), Decimal(one[2]), one[3]) for one in {*parts}}
    return [packs[one] for one in parts]


def _fault_parts(values: Column) -> Column:
    return [faults and [(fault.column, fault.detail) for fault in faults] for faults in values]


def _faults(values: Column) -> Column:
    return [tuple([RowFault(column, detail) for column, detail in faults]) for faults in values]


_AMOUNTS = ("amount", "other_amount", "per_quantity", "at_least", "billed_quantity", "line_total")
_WRITTEN: dict[str, Callable[[Column], Column]] = {
    **dict.fromkeys(_AMOUNTS, _texts), **dict.fromkeys(("starts", "ends"), _day_texts),
    "pack": _pack_parts, "faults": _fault_parts}
_READ: dict[str, Callable[[Column], Column]] = {
    **dict.fromkeys(_AMOUNTS, _decimals), **dict.fromkeys(("starts", "ends"), _days),
    "pack": _packs, "faults": _faults}
_UNFILLED = {name: _WRITTEN[name]([value])[0] if name in _WRITTEN else value
             for name, value in PriceRow._field_defaults.items()}
"""What a field that is not filled is written as."""
