"""Workbooks for tests: made by a writer of workbooks, and taken apart to be made worse."""

import datetime
import struct
import zipfile
from collections.abc import Callable, Mapping, Sequence
from io import BytesIO
from typing import Any

import xlsxwriter
from xlsxwriter.workbook import Workbook

HEADER = ("Code", "Description", "Unit", "Price")
TOPSIDE = ("10-2345", "Beef topside", "kg", 14.2)
SHEET = "xl/worksheets/sheet1.xml"

Rows = Sequence[Sequence[Any]]


def a_workbook(sheets: Mapping[str, Rows] | None = None, write: Callable[[Workbook], None] | None = None,
               **options: Any) -> bytes:
    """A workbook with those sheets (else one with one price); `write` may add what rows cannot say."""
    file = BytesIO()
    workbook = xlsxwriter.Workbook(file, {"in_memory": True, **options})
    day = workbook.add_format({"num_format": "yyyy-mm-dd"})
    for name, rows in ({"Prices": [HEADER, TOPSIDE]} if sheets is None else sheets).items():
        sheet = workbook.add_worksheet(name)
        for number, row in enumerate(rows):
            for column, cell in enumerate(row):
                if isinstance(cell, datetime.date):
                    sheet.write_datetime(number, column, cell, day)
                elif isinstance(cell, str):
                    sheet.write_string(number, column, cell)
                elif cell is not None:
                    sheet.write(number, column, cell)
    if write is not None:
        write(workbook)
    workbook.close()
    return file.getvalue()


def parts_of(content: bytes) -> dict[str, bytes]:
    """The parts of a workbook, unpacked."""
    with zipfile.ZipFile(BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """An archive of those parts."""
    file = BytesIO()
    with zipfile.ZipFile(file, "w", method) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return file.getvalue()


def with_part(name: str, content: bytes, of: bytes | None = None) -> bytes:
    """A workbook with a part put in, or in place of its own."""
    return packed({**parts_of(a_workbook() if of is None else of), name: content})


def with_sheet(change: Callable[[str], str], of: bytes | None = None) -> bytes:
    """A workbook whose first sheet is changed as text."""
    content = a_workbook() if of is None else of
    return with_part(SHEET, change(parts_of(content)[SHEET].decode()).encode(), content)


def declaring(content: bytes, name: str, size: int) -> bytes:
    """The archive with another size declared for a part, in its directory and in the part's own header."""
    changed = bytearray(content)
    for signature, size_at, name_at in ((b"PK\3\4", 22, 30), (b"PK\1\2", 24, 46)):
        place = changed.find(signature)
        while changed[place + name_at:place + name_at + len(name)] != name.encode():
            place = changed.index(signature, place + 1)
        struct.pack_into("<L", changed, place + size_at, size)
    return bytes(changed)


def many_rows(count: int, text: str = "Beef") -> bytes:
    """A workbook of many rows, written as text: quicker than a writer, and no smaller."""
    first, _, rest = parts_of(a_workbook({"Prices": [HEADER]}))[SHEET].decode().partition("</sheetData>")
    rows = [f'<row r="{row}"><c r="A{row}" t="inlineStr"><is><t>10-{row}</t></is></c><c r="B{row}" t="inlineStr"><is>'
            f'<t>{text} {row}</t></is></c><c r="C{row}" t="inlineStr"><is><t>kg</t></is></c><c r="D{row}">'
            f"<v>{row % 97 + 0.25}</v></c></row>" for row in range(2, count + 2)]
    sheet = f"{first}{''.join(rows)}</sheetData>{rest}".replace('ref="A1:D1"', f'ref="A1:D{count + 1}"')
    return with_part(SHEET, sheet.encode())
