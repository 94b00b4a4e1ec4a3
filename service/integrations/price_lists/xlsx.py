"""XLSX workbooks: checked outside, read in the cage, understood as a table.

The numbers of a workbook are binary floats, and people typed decimals: 14.2 is stored as 14.199999999999999 by some
programs. 15 significant digits are what a spreadsheet keeps of a number (and what every decimal of so many digits
survives), so a cell is the decimal of 15 digits nearest to what is stored; arithmetic begins with that.

Codes that a sheet keeps as numbers lose leading zeros there, unless they were typed as text.

Source: ECMA-376 part 1, 18.17.5 for what a number in a sheet is; IEEE 754 for the 15 digits.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Context, Decimal
from itertools import chain, islice
from json import JSONDecoder
from typing import Any

from service.domain.errors import ColumnsNotRecognised, Fault, UnreadableFile
from service.domain.price_list import FileFormat, PriceList
from service.integrations.delimited.rows import MOST_COLUMNS
from service.integrations.price_lists.cage import caged
from service.integrations.price_lists.cells import Cell
from service.integrations.price_lists.table_reading import HEADER_WITHIN, looks_like_prices, read_table
from service.integrations.price_lists.workbook_checks import MOST_SHEET_ROWS, checked_archive
from service.integrations.price_lists.workbook_holes import Holes, count_and_find_holes
from service.use_cases.price_files import HowToRead

Numbered = tuple[int, Sequence[Cell]]
SHOWN_SHEETS = 20

_FIFTEEN_DIGITS = Context(prec=15)


def read_workbook(content: bytes, how: HowToRead) -> PriceList:
    """What a workbook says: its sheet of that name, else the first visible one that looks like a list of prices.

    Raises:  UnreadableFile, FileTooLarge, ColumnsNotRecognised, ReadersBusy.
    """
    archive = checked_archive(content)
    asked = {"sheet": how.sheet, "most_rows": MOST_SHEET_ROWS, "most_columns": MOST_COLUMNS}
    with caged("workbook", content, asked) as lines:
        holes = count_and_find_holes(archive)
        sheets = _Sheets(lines, holes)
        for name, rows in sheets:
            first = list(islice(rows, HEADER_WITHIN))
            if how.sheet or looks_like_prices([cells for _, cells in first], how):
                return read_table(chain(first, rows), how, FileFormat.XLSX, sheet=name)
            sheets.passed_over.append((name, first))
    raise _unlike_a_list(sheets, how)


class _Sheets:
    """The sheets of a workbook as the cage tells of them, each to be read before the next."""

    def __init__(self, lines: Iterator[bytes], holes: Mapping[str, Holes]) -> None:
        self.names: list[str] = []
        self.passed_over: list[tuple[str, list[Numbered]]] = []
        self._lines = lines
        self._holes = holes
        self._ahead: bytes | None = None

    def __iter__(self) -> Iterator[tuple[str, Iterator[Numbered]]]:
        self.names = _CONTROL(next(self._lines).decode())["sheets"]
        while (line := self._next()) is not None:
            # What a sheet that was passed over still says is left unread.
            if line.startswith(b"{"):
                sheet = _CONTROL(line.decode())
                yield sheet["sheet"], self._rows(sheet["column"], self._holes.get(sheet["sheet"], {}))

    def _next(self) -> bytes | None:
        line, self._ahead = self._ahead, None
        return next(self._lines, None) if line is None else line

    def _rows(self, first_column: int, holes: Holes) -> Iterator[Numbered]:
        number = 0
        while (line := self._next()) is not None:
            if line.startswith(b"{"):
                self._ahead = line
                return
            for cells in _decoded(line):
                number += 1
                if number in holes:
                    _fill(cells, holes[number], first_column)
                yield number, cells


def _fill(cells: list[Cell], holes: Mapping[int, str], first_column: int) -> None:
    for column, text in holes.items():
        place = column - first_column
        if 0 <= place < len(cells):
            cells[place] = text


def _decoded(line: bytes) -> list[list[Cell]]:
    text = line.decode()
    rows: list[list[Cell]] = _ROWS(text)
    if "true" in text or "false" in text:
        return [[("TRUE" if cell else "FALSE") if isinstance(cell, bool) else cell for cell in row] for row in rows]
    return rows


def _number(text: str) -> Decimal | str:
    """A number of a cell, as text with up to 17 digits, as the decimal that was typed.

    Example: "14.199999999999999" is 14.2, "5012345678900.0" is 5012345678900.
    """
    return Decimal(text[:-2]) if text.endswith(".0") else _FIFTEEN_DIGITS.create_decimal(text)


def _day(said: dict[str, Any]) -> date:
    return date.fromisoformat(str(said["d"]))


_CONTROL: Callable[[str], Any] = JSONDecoder().decode
_ROWS: Callable[[str], Any] = JSONDecoder(parse_float=_number, parse_int=Decimal, parse_constant=str,
                                          object_hook=_day).decode


def _unlike_a_list(sheets: _Sheets, how: HowToRead) -> Fault:
    """When no sheet looks like a list: the columns of the first that has any are told, and the names of all."""
    names = sheets.names[:SHOWN_SHEETS]
    filled = [(name, first) for name, first in sheets.passed_over if any(any(cells) for _, cells in first)]
    if not filled:
        return UnreadableFile("The workbook's sheets are empty.", why="empty", sheets=names)
    name, first = filled[0]
    try:
        read_table(iter(first), how, FileFormat.XLSX, sheet=name)
    except ColumnsNotRecognised as fault:
        others = f" The workbook's sheets are {', '.join(names)}: name the one with the list." if names[1:] else ""
        return ColumnsNotRecognised(fault.detail + others, **{**fault.more, "sheets": names})
    return UnreadableFile("No sheet of the workbook looks like a list of prices.", why="no-list", sheets=names)
