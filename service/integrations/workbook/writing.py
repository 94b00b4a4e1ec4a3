"""Writes a live workbook as XLSX: every cell with its formula and its value, so that viewers that do not compute show
the right figures too.

Rules that always hold: text is written as text, whatever it begins with; the same workbook makes the same bytes, since
the only moment in it is the day that it is of; no macros.

Source: ECMA-376 (Office Open XML), as XlsxWriter writes it.
"""

from collections.abc import Mapping
from datetime import datetime, time
from io import BytesIO

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from service.domain.live_table import FIRST_ROW, Band, Cell, Entry, Form, Given, Label, Live, Number, Table
from service.domain.workbook import LiveWorkbook
from service.integrations.workbook.charting import add_chart
from service.integrations.workbook.formats import HEADS, Formats, Kind
from service.integrations.workbook.reading_aids import add_reading_aids, lay_out_for_print

NOT_AVAILABLE = "#N/A"
_BAND_ROW, _HEAD_ROW = FIRST_ROW - 3, FIRST_ROW - 2
_ROW_HEIGHT, _HEAD_HEIGHT, _LINE_HEIGHT, _SPACE = 17, 48, 14, 6


class _SheetOfPlainFormulas(Worksheet):
    """A sheet whose formulas are written as they are given.

    The library looks through each for some forty newer functions that need a prefix in the file, which takes more than
    half of the time of a menu's workbook. Ours have none of them.
    """

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:  # noqa: ARG002
        return formula.removeprefix("=")


def workbook_bytes(workbook: LiveWorkbook) -> bytes:
    """The workbook as a file."""
    target = BytesIO()
    with Workbook(target, {"in_memory": True}) as book:
        book.set_properties({"title": "Menu costs", "created": datetime.combine(workbook.day, time())})
        book.set_calc_mode("auto")
        formats = Formats(book, workbook.money_places)
        for table in workbook.tables:
            sheet = book.add_worksheet(table.name, _SheetOfPlainFormulas)
            _write(table, sheet, formats)
            lay_out_for_print(table, workbook.ranking, sheet, f"As of {workbook.day}, revision {workbook.revision}")
            if table is workbook.ranking:
                add_chart(book, sheet, table)
        for name, address in workbook.names.items():
            book.define_name(name, f"={address}")
        book.worksheets()[0].activate()
    return target.getvalue()


def _write(table: Table, sheet: Worksheet, formats: Formats) -> None:
    sheet.hide_gridlines(2)
    sheet.write_string(0, 0, table.title, formats.title)
    sheet.write_string(1, 0, table.note, formats.note)
    sheet.set_default_row(_ROW_HEIGHT)
    sheet.set_row(0, 28)
    if any(column.header for column in table.columns):
        _write_headers(table, sheet, formats)
    for place, column in enumerate(table.columns):
        sheet.set_column(place, place, column.width)
    looks = {starts: [(place, column, *(formats.cell(column.form, column.band, kind, starts) for kind in Kind))
                      for place, column in enumerate(table.columns)] for starts in (False, True)}
    group: Cell | None = None
    for row, cells in enumerate(table.rows, FIRST_ROW - 1):
        starts, group = cells.get(table.group) != group, cells.get(table.group)
        for place, column, plain, entry in looks[starts]:
            cell = cells.get(column.key)
            if cell is not None:
                _write_cell(sheet, row, place, cell, entry if isinstance(cell, Entry) else plain)
            elif column.header:
                sheet.write_blank(row, place, None, plain)
        _make_room(table, sheet, row, cells)
    sheet.freeze_panes(FIRST_ROW - 1, table.fixed)
    add_reading_aids(table, sheet, formats)


def _write_headers(table: Table, sheet: Worksheet, formats: Formats) -> None:
    sheet.set_row(_HEAD_ROW, _HEAD_HEIGHT)
    last: Band | None = None
    for place, column in enumerate(table.columns):
        sheet.write_string(_HEAD_ROW, place, column.header, formats.head(column.band))
        if column.band is not last and column.band.value and column.band in HEADS:
            sheet.write_string(_BAND_ROW, place, column.band.value, formats.band(column.band))
        last = column.band


def _make_room(table: Table, sheet: Worksheet, row: int, cells: Mapping[str, Cell]) -> None:
    """A row as high as its longest text needs: not every program works that out when it opens a file."""
    lines = [-(-len(cell.text) // (column.width * 9 // 10)) for column in table.columns
             if column.form is Form.LONG_TEXT and isinstance(cell := cells.get(column.key), Label)]
    if lines:
        sheet.set_row(row, _LINE_HEIGHT * max(lines) + _SPACE)


def _write_cell(sheet: Worksheet, row: int, place: int, cell: Cell, look: object) -> None:
    match cell:
        case Label(text):
            sheet.write_string(row, place, text, look)
        case Entry(None):
            sheet.write_blank(row, place, None, look)
        case Entry(str() as text):
            sheet.write_string(row, place, text, look)
        case Entry(value) | Given(value):
            sheet.write_number(row, place, float(value), look)
        case Live(formula, value):
            sheet.write_formula(row, place, f"={formula}", look, _shown(value))


def _shown(value: Number | str | None) -> float | str:
    """The value that stands beside a formula."""
    if value is None:
        return NOT_AVAILABLE
    return value if isinstance(value, str) else float(value)
