"""The columns of a price list beside its prices and packs: days, GTINs, and quantities from which a price holds.

Source: GS1 General Specifications, section 3, for how many digits a GTIN has.
"""

import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from service.integrations.price_lists.cells import shown
from service.integrations.price_lists.date_texts import read_days
from service.integrations.price_lists.folding import plain
from service.integrations.price_lists.table_columns import TableColumns
from service.integrations.price_lists.written_numbers import telling_mark, value_of

_GTIN_LENGTHS = frozenset((8, 12, 13, 14))
_DAY_FIRST_CURRENCIES = frozenset((
    "EUR", "GBP", "CHF", "DKK", "SEK", "NOK", "PLN", "CZK", "HUF", "RON", "AUD", "NZD"))
"""Where prices are in one of these, dates in figures have the day before the month."""
_FROM = re.compile(r"^(?:>=|\u2265|ab|from|a partir de|des|desde|da|vanaf|fra|fran)?\s*([0-9][0-9.,]*)\s*\+?\s*"
                   r"[a-z]*\.?$")


def date_fields(table: TableColumns, mark: str) -> dict[str, Iterable[Any]]:
    """The first and last day of each row's price, as the file says them."""
    day_first = True if mark == "," or table.currency in _DAY_FIRST_CURRENCIES else None
    fields: dict[str, Sequence[date | None]] = {
        meaning: _days(table, meaning, day_first) for meaning in ("starts", "ends") if meaning in table.cells}
    if len(fields) == 2:
        for place, (starts, ends) in enumerate(zip(fields["starts"], fields["ends"], strict=True)):
            if starts and ends and ends < starts:
                table.tell_one(place, "ends", f"The last day {ends} is before the first, {starts}: mend one of them.")
    return dict(fields)


def gtin_fields(table: TableColumns, items: Sequence[str]) -> dict[str, Iterable[Any]]:
    """Each row's GTIN. One that cannot be right is a fault where nothing else names the item; else it is left out."""
    if "gtin" not in table.cells:
        return {}
    cells = table.texts("gtin")
    whole = "".join(cells)
    if whole.isascii() and whole.isdigit() and {0, *_GTIN_LENGTHS}.issuperset(map(len, cells)):
        return {"gtin": cells}
    read = [_gtin(text) if text else "" for text in cells]
    if read != cells:
        for place, (text, gtin) in enumerate(zip(cells, read, strict=True)):
            if text and not gtin and not items[place]:
                table.tell_one(place, "gtin", f"{shown(text)} is no GTIN, of 8, 12, 13 or 14 digits. A spreadsheet "
                                              "may have rounded it: format its column as text.")
    return {"gtin": read}


def quantity_fields(table: TableColumns, mark: str) -> dict[str, Iterable[Any]]:
    """From which quantity each row's price holds. From one, or from none, is from any."""
    if "at_least" not in table.cells:
        return {}
    cells = table.texts("at_least")
    read = {text: _quantity(text, mark) for text in table.different("at_least", cells)}
    table.tell("at_least", cells, {text: f"{shown(text)} is no quantity: write it as in 10."
                                   for text, quantity in read.items() if text and quantity is None})
    smallest = Decimal(1)
    return {"at_least": [quantity if (quantity := read[text]) is not None and quantity > smallest else None
                         for text in cells]}


def _days(table: TableColumns, meaning: str, day_first: bool | None) -> list[date | None]:
    cells = [cell if isinstance(cell, date) else text
             for cell, text in zip(table.cells[meaning], table.texts(meaning), strict=True)]
    days: dict[date | str, date | None] = {cell: cell for cell in cells if isinstance(cell, date)}
    days.update(read_days((cell for cell in table.different(meaning, cells) if isinstance(cell, str)), day_first))
    table.tell(meaning, cells, {cell: f"{shown(str(cell))} is no day, or could be two: write it as in 2026-12-01."
                                for cell, day in days.items() if cell and day is None})
    return [days[cell] for cell in cells]


def _gtin(text: str) -> str:
    """The digits of a GTIN that is written in groups, as under a bar code; nothing for what is none."""
    digits = text.replace(" ", "").replace("-", "")
    return digits if len(digits) in _GTIN_LENGTHS and digits.isascii() and digits.isdigit() else ""


def _quantity(text: str, mark: str) -> Decimal | None:
    found = _FROM.match(plain(text)) if len(text) <= 40 else None
    return value_of(found[1], telling_mark(found[1]) or mark) if found else None
