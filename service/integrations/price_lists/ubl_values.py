"""Values of a UBL line: decimals, dates and units, each read exactly or told as the line's fault.

Decimals are xs:decimal: ASCII digits with a point, nothing else; at most 12 digits before the point and 6 after it.

Source: XML Schema part 2 for decimal and date; UBL 2.1's unqualified data types for unitCode and currencyID.
"""

import re
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from service.domain.price_list import RowFault
from service.integrations.price_lists.ubl_tree import Node, attribute, first, text_at
from service.integrations.price_lists.unit_words import Measure, measure_of_code
from service.integrations.price_lists.written_numbers import MOST_DECIMALS, MOST_WHOLE_DIGITS

_DECIMAL = re.compile(r"[+-]?0*([0-9]*)(?:\.([0-9]*?)0*)?")
_DATE = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})(?:Z|[+-][0-9]{2}:[0-9]{2})?")
_SAME_COUNT = frozenset(("C62", "H87", "EA"))
"""One, piece, each: three codes for one thing."""


@dataclass
class LineReader:
    """Reads a line's values; what cannot be read is a fault of the line, and the next value is read all the same."""

    line: Node
    faults: list[RowFault] = field(default_factory=list)

    def text(self, *paths: str) -> str:
        return text_at(self.line, *paths)

    def number(self, path: str, at: Node | None = None) -> Decimal | None:
        """The decimal at a path of the line, or of an element in it; None: there is none, or it cannot be read."""
        node = first(self.line if at is None else at, path)
        if node is None:
            return None
        value = decimal_of(node[1])
        if isinstance(value, str):
            self.blame(path, value)
            return None
        return value

    def day(self, path: str, at: Node | None = None) -> date | None:
        """The date at a path."""
        written = text_at(self.line if at is None else at, path)
        day = date_of(written)
        if written and day is None:
            self.blame(path, f"{written[:40]!r} is no date: write it as in 2026-12-01.")
        return day

    def blame(self, path: str, detail: str) -> None:
        self.faults.append(RowFault(path, detail))


def decimal_of(written: str) -> Decimal | str:
    """The number, or why it is none.

    Example: "14.20" is 14.20, "-3" is -3; "14,20", "1e3" and "" are none.
    """
    written = written.strip()
    found = _DECIMAL.fullmatch(written) if len(written) <= 80 else None
    if found is None or written.strip("+-.") == "":
        return f"{written[:40]!r} is no number: write it as in 14.20."
    if len(found[1]) > MOST_WHOLE_DIGITS or len(found[2] or "") > MOST_DECIMALS:
        return (f"{written[:40]!r} has too many digits: at most {MOST_WHOLE_DIGITS} stand before the point and "
                f"{MOST_DECIMALS} after it.")
    return Decimal(written)


def date_of(written: str) -> date | None:
    """A date as XML Schema writes it; a time zone changes nothing."""
    found = _DATE.fullmatch(written)
    try:
        return date.fromisoformat(found[1]) if found else None
    except ValueError:
        return None


def unit_code(node: Node | None) -> str:
    """The code of a quantity's unit, as sent."""
    return attribute(node, "unitCode")


def same_unit(one: str, other: str) -> bool:
    """Whether two codes name the same unit."""
    return one == other or {one, other} <= _SAME_COUNT


def measure_of(code: str) -> Measure | None:
    """What a code stands for; None: nothing that is measured here."""
    return measure_of_code(code) if code else None


def gtin_of(item: Node | None) -> str:
    """An item's GTIN: scheme 0160, of 8, 12, 13 or 14 digits; empty when it has none.

    Source: ICD 0160 in the code list of electronic address schemes (ISO 6523).
    """
    node = None if item is None else first(item, "cac:StandardItemIdentification/cbc:ID")
    if node is None or attribute(node, "schemeID") != "0160":
        return ""
    digits = str(node[1]).strip()
    return digits if digits.isascii() and digits.isdigit() and len(digits) in (8, 12, 13, 14) else ""
