"""Records as documents: the JSON that goes over the wire, and into the ledger's entries.

One form for both, so that what was recorded can be read back as it was sent. Decimals are text without trailing
zeros, dates RFC 3339, and of "exactly one of" only the one that is named.
"""

from collections.abc import Mapping
from dataclasses import fields
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any

from service.domain.breakdown import BreakdownInput
from service.domain.history import Mark
from service.domain.price import Price
from service.domain.recipe import Line
from service.domain.yield_test import YieldTest

_ONE_OF = {Line: ("ingredient", "cut", "recipe"), BreakdownInput: ("ingredient", "cut")}
Document = dict[str, Any]


def plain(value: Decimal) -> str:
    """A recorded decimal as the shortest plain text: 14.20 is "14.2", never an exponent."""
    return format(value.normalize(), "f") if value else "0"


def document(record: Any) -> Document:
    """The record's fields by name, ready for JSON."""
    left_out = {name for name in _ONE_OF.get(type(record), ()) if getattr(record, name) is None}
    return {field.name: _value(getattr(record, field.name)) for field in fields(record) if field.name not in left_out}


def moment(value: datetime, timespec: str = "auto") -> str:
    """An instant in UTC per RFC 3339, ending in Z; `timespec` as `datetime.isoformat` has it."""
    return value.isoformat(timespec=timespec).replace("+00:00", "Z")


def price_document(price: Price) -> Document:
    """A price with its public name, the revision that recorded it, and its withdrawal if any."""
    return _dated_document(price, "withdrawn")


def price_entry(price: Price) -> Document:
    """What the ledger's entry says of a price that is recorded: its own facts, before it has a name.

    Written out member by member: a price list records thousands at once. It is `price_document` without the name.
    """
    return {
        "ingredient": price.ingredient, "supplier": price.supplier, "amount": plain(price.amount),
        "pack_quantity": plain(price.pack_quantity), "pack_unit": price.pack_unit,
        "effective_from": price.effective_from.isoformat(),
        "effective_to": price.effective_to and price.effective_to.isoformat(),
        "reference": price.reference, "withdrawn": None}


def yield_test_document(test: YieldTest) -> Document:
    """A yield test with its public name, the revision that recorded it, and why it was set aside if it was."""
    return _dated_document(test, "set_aside")


def _dated_document(record: Price | YieldTest, ended: str) -> Document:
    body = document(record)
    del body["made"]
    end = body.pop(ended)
    body[ended] = end and {"revision": end["made"], "reason": end["reason"]}
    return {"id": record.id, "revision": record.made.revision} | body


def _value(value: Any) -> Any:
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, Mark):
        return value.revision
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_value(item) for item in value]
    if isinstance(value, Mapping):
        return {key: _value(item) for key, item in value.items()}
    if hasattr(value, "__dataclass_fields__"):
        return document(value)
    return value
