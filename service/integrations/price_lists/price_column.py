"""The column of prices: its decimal mark, and each row's amount and currency."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from service.integrations.price_lists.amounts import Amount, marks_told, of_number, read_amounts, taken_apart
from service.integrations.price_lists.cells import Cell, all_text, as_text, shown
from service.integrations.price_lists.currency_words import currency_of
from service.integrations.price_lists.table_columns import TableColumns
from service.integrations.price_lists.written_numbers import telling_mark

_NUMBERS_MEANING = ("pack", "pack_quantity", "at_least")


def price_fields(table: TableColumns) -> tuple[dict[str, Iterable[Any]], Sequence[str] | None, str]:
    """The fields that come from the price, what each is for where the cells say so, and the table's decimal mark."""
    cells = _stripped(table.cells["price"])
    times = Counter(cells)
    written = taken_apart(cell for cell in times if isinstance(cell, str))
    mark = _decimal_mark(table, marks_told(written, times))
    amounts: dict[str | Decimal | date, Amount] = {
        cell: _of_typed(cell) for cell in times if not isinstance(cell, str)}
    amounts.update(read_amounts(written, mark))
    table.tell("price", cells, {cell: amount.fault for cell, amount in amounts.items() if amount.fault})
    by_row = list(map(amounts.__getitem__, cells))
    fields: dict[str, Iterable[Any]] = {
        "amount": [amount.value for amount in by_row],
        "other_amount": [amount.other for amount in by_row],
        "amount_text": as_text(cells),
        "currency": _currencies(table, by_row, amounts.values()),
    }
    said_in_cells = any(amount.per for amount in amounts.values())
    return fields, [amount.per for amount in by_row] if said_in_cells else None, mark


def _decimal_mark(table: TableColumns, told: Mapping[str, int]) -> str:
    """The decimal mark of a table's amounts: told by the prices, else by its other numbers, else by what is known."""
    if told["."] == told[","]:
        told = _told_by_others(table)
    if told["."] == told[","]:
        return table.mark or "."
    return "," if told[","] > told["."] else "."


def _told_by_others(table: TableColumns) -> Mapping[str, int]:
    """How many of the numbers in packs and quantities give away a point, and how many a comma."""
    told = {".": 0, ",": 0}
    for meaning in _NUMBERS_MEANING:
        for cell in table.cells.get(meaning, ()):
            for word in cell.lower().replace("x", " ").split() if isinstance(cell, str) else ():
                number = word.rstrip("abcdefghijklmnopqrstuvwz")
                mark = telling_mark(number) if number[:1].isdigit() and number[-1:].isdigit() else ""
                if mark:
                    told[mark] += 1
    return told


def _stripped(cells: Sequence[Cell]) -> list[str | Decimal | date]:
    if all_text(cells):
        return list(map(str.strip, cells))  # type: ignore[arg-type]  # all are text
    return [cell.strip() if isinstance(cell, str) else "" if cell is None else cell for cell in cells]


def _of_typed(cell: Decimal | date) -> Amount:
    if isinstance(cell, date):
        return Amount(fault=f"{cell.isoformat()} is a day, not an amount: the spreadsheet may have made it one.")
    return of_number(cell)


def _currencies(table: TableColumns, by_row: Sequence[Amount], amounts: Iterable[Amount]) -> Iterable[str]:
    """Each row's currency: as beside the amount, else as in its own column, else as the table says."""
    beside = None
    if any(amount.currency for amount in amounts):
        beside = [amount.currency for amount in by_row]
    if "currency" not in table.cells:
        return [each or table.currency for each in beside] if beside else [table.currency] * table.rows
    codes = table.texts("currency")
    read = {text: currency_of(text) if text else "" for text in table.different("currency", codes)}
    table.tell("currency", codes, {text: f"{shown(text)} is no currency: write its three letters, as in EUR."
                                   for text, code in read.items() if code is None})
    if beside is None:
        return list(map({text: code or table.currency for text, code in read.items()}.__getitem__, codes))
    column = [read[text] or "" for text in codes]
    for place, (one, other) in enumerate(zip(beside, column, strict=True)):
        if one and other and one != other:
            table.tell_one(place, "currency", f"The price says {one}, the column says {other}: make them the same.")
    return [one or other or table.currency for one, other in zip(beside, column, strict=True)]
