"""Reads the cells of a workbook, in the cage.

Lines out: {"sheets": [names]}, then for each sheet looked at {"sheet": name, "column": its first column, from 0} and
its rows, 256 to a line, from row 1 on. A cell is text, a number, true or false, or {"d": "2026-12-01"}; an empty one is
"".
A formula is its value as it was last computed, which is what a person saw who opened the file.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from io import BytesIO
from itertools import islice
from json import JSONEncoder

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from service.integrations.price_lists.caged.refusal import Refusal

ROWS_TO_A_LINE = 256


def read(file: BytesIO, asked: dict[str, str | int]) -> Iterator[bytes]:
    """The sheet asked for, else each visible one in turn until nobody listens."""
    try:
        workbook = CalamineWorkbook.from_filelike(file)
    except CalamineError as fault:
        raise Refusal("damaged", "its parts are not those of a workbook, or hold what cannot be read") from fault
    names = [sheet.name for sheet in workbook.sheets_metadata if sheet.typ == SheetTypeEnum.WorkSheet]
    yield _line({"sheets": names})
    for name in _to_read(workbook, names, str(asked["sheet"])):
        sheet = workbook.get_sheet_by_name(name)
        _check_size(sheet, int(asked["most_rows"]), int(asked["most_columns"]))
        yield _line({"sheet": name, "column": sheet.start[1] if sheet.start else 0})
        yield from _rows(sheet.iter_rows())


def _to_read(workbook: CalamineWorkbook, names: list[str], wanted: str) -> Iterable[str]:
    if not wanted:
        hidden = {sheet.name for sheet in workbook.sheets_metadata if sheet.visible != SheetVisibleEnum.Visible}
        return [name for name in names if name not in hidden]
    if wanted in names:
        return [wanted]
    alike = [name for name in names if name.strip().casefold() == wanted.strip().casefold()]
    if not alike:
        raise Refusal("no-such-sheet", ", ".join(names[:20]))
    return alike[:1]


def _check_size(sheet: CalamineSheet, most_rows: int, most_columns: int) -> None:
    rows, columns = (sheet.end[0] + 1, sheet.end[1] + 1) if sheet.end else (0, 0)
    if rows > most_rows:
        raise Refusal("rows", f"{sheet.name!r} has {rows:,} rows", most_rows)
    if columns > most_columns:
        raise Refusal("columns", f"{sheet.name!r} has {columns:,} columns", most_columns)


def _rows(rows: Iterator[Sequence[object]]) -> Iterator[bytes]:
    while some := list(islice(rows, ROWS_TO_A_LINE)):
        yield _line(some)


def _other(cell: object) -> object:
    """A cell that JSON has no word for: a day, or a time or span of time, which no price list means by itself."""
    if isinstance(cell, datetime):
        return {"d": cell.date().isoformat()}
    return {"d": cell.isoformat()} if isinstance(cell, date) else str(cell)


_encode = JSONEncoder(ensure_ascii=False, separators=(",", ":"), check_circular=False, default=_other).encode


def _line(what: object) -> bytes:
    return _encode(what).encode() + b"\n"
