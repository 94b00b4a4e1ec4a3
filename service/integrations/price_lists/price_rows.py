"""Rows of prices out of the columns of a table: column by column, each distinct text read once.

A column is read as a whole because what its cells mean is decided for all of them together (the decimal mark, the order
of day and month), and because a list of ten thousand rows has a few units and packs.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import partial
from itertools import repeat
from typing import Any

from service.domain.price_list import PriceRow, RowFault
from service.integrations.price_lists.cells import all_text
from service.integrations.price_lists.other_columns import date_fields, gtin_fields, quantity_fields
from service.integrations.price_lists.price_column import price_fields
from service.integrations.price_lists.table_columns import TableColumns
from service.integrations.price_lists.term_columns import term_fields

_ROW = partial(tuple.__new__, PriceRow)
"""Makes a row of all its fields: what `PriceRow._make` does, without a call in Python for each row."""
_NO_FAULTS: tuple[RowFault, ...] = ()


def price_rows(table: TableColumns, places: Sequence[str], ragged: Mapping[int, int], width: int, per_header: str
               ) -> tuple[tuple[PriceRow, ...], str]:
    """The rows of a table, and the decimal mark that they were read with.

    Shape:   `places` says where a person finds each row; `ragged` is how many cells a row has that should have `width`;
             `per_header` is what the price's header says that prices are for.
    """
    said, per_cells, mark = price_fields(table)
    said |= {"number": range(1, table.rows + 1), "place": places}
    said |= {"item": (items := _codes(table)), "name": (names := table.texts("name"))}
    said |= gtin_fields(table, items)
    said |= term_fields(table, mark, per_header, per_cells)
    said |= date_fields(table, mark) | quantity_fields(table, mark)
    _tell_nameless(table, items, names, said.get("gtin"))
    said |= _without_ragged(table, ragged, width, said)
    if table.faults:
        said["faults"] = [tuple(table.faults.get(at, _NO_FAULTS)) for at in range(table.rows)]
    columns = [said[name] if name in said else repeat(PriceRow._field_defaults[name]) for name in PriceRow._fields]
    return tuple(map(_ROW, zip(*columns))), mark  # noqa: B905  # repeat has no end


def _codes(table: TableColumns) -> Sequence[str]:
    """The items' codes. A code that a spreadsheet turned into a day is lost: which it was cannot be told."""
    cells = table.cells.get("item", ())
    if not all_text(cells):
        table.tell("item", cells, {
            cell: f"The spreadsheet made a day of the code, {cell}: format its column as text, and write it again."
            for cell in cells if isinstance(cell, date)})
    return table.texts("item")


def _tell_nameless(table: TableColumns, items: Sequence[str], names: Sequence[str], gtins: Iterable[Any] | None
                   ) -> None:
    """A price of nothing is a fault."""
    if "" not in items or ("" not in names):
        return
    for place, named in enumerate(zip(items, names, gtins or repeat(""))):  # noqa: B905
        if not any(named):
            meaning = next(each for each in ("item", "gtin", "name") if each in table.cells)
            table.tell_one(place, meaning, "Nothing says what the price is for: give the item's code, GTIN or name.")


def _without_ragged(table: TableColumns, ragged: Mapping[int, int], width: int, said: Mapping[str, Iterable[Any]]
                    ) -> dict[str, Iterable[Any]]:
    """The amounts, but for rows with more or fewer cells than the header: theirs may be of another column."""
    if not ragged:
        return {}
    for place, cells in ragged.items():
        table.faults[place].append(RowFault("row", (
            f"It has {cells} cells, the header {width}: put text that holds the delimiter into quotes, or add what is "
            "missing.")))
    return {name: [None if at in ragged else value for at, value in enumerate(said[name])]
            for name in ("amount", "other_amount")}
