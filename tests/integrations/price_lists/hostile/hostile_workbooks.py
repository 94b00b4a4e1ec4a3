"""Workbooks that want more than they seem to, each by its name, with the words that its refusal must hold."""

import zipfile
from collections.abc import Callable, Mapping

from tests.integrations.price_lists.hostile.containers import (
    compound_file,
    flagged_as_encrypted,
    overlapping,
    quoting,
    with_repeated,
)
from tests.integrations.price_lists.workbooks import (
    SHEET,
    a_workbook,
    declaring,
    many_rows,
    packed,
    parts_of,
    with_part,
    with_sheet,
)

Corpus = Mapping[str, tuple[Callable[[], bytes], str]]


def sheet_of_zeros() -> bytes:
    """A sheet of 420 MB, all zeros: 26 million cells in half a megabyte."""
    parts = parts_of(a_workbook())
    head, _, tail = parts.pop(SHEET).partition(b"</sheetData>")
    row = b"<row>" + b"<c><v>0</v></c>" * 250 + b"</row>"
    return with_repeated(packed(parts), SHEET, head, row * 279, 400, b"</sheetData>" + tail)


def sheet_of_zeros_that_lies() -> bytes:
    """The same, said to be of 60 MB, and so below every limit that a directory can be held to."""
    return declaring(sheet_of_zeros(), SHEET, 60_000_000)


def sheet_of_numbers() -> bytes:
    """A sheet within every limit that a directory can be held to, of cells that unpack to a grid of 24 million."""
    far = "".join(f'<row r="{row}"><c r="A{row}"><v>1</v></c><c r="IV{row}"><v>{row * 7919 % 1000003}</v></c></row>'
                  for row in range(3, 100_000))
    return with_sheet(lambda sheet: sheet.replace("</sheetData>", f"{far}</sheetData>"))


def one_far_cell() -> bytes:
    """One cell at the last place that a sheet has; the sheet's dimension does not say so."""
    return with_sheet(lambda sheet: sheet.replace(
        "</sheetData>", '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'))


def merged_areas() -> bytes:
    """Every cell of the sheet merged, many times over, and no list in it."""
    merged = "".join(f'<mergeCell ref="A{row}:XFD1048576"/>' for row in range(1, 2000))
    bare = a_workbook({"Prices": [["Nothing here", "nor there"]]})
    return with_sheet(lambda sheet: sheet.replace("</sheetData>", f"</sheetData><mergeCells>{merged}</mergeCells>"),
                      bare)


def shared_strings_bomb() -> bytes:
    """One text of 30 000 letters that a hundred thousand cells share: 3 GB when each has it."""
    parts = parts_of(a_workbook())
    letters = "".join(chr(97 + number * 7919 % 26) for number in range(30_000))
    parts["xl/sharedStrings.xml"] = parts["xl/sharedStrings.xml"].replace(b"Beef topside", letters.encode())
    rows = "".join(f'<row r="{row}"><c r="A{row}" t="s"><v>5</v></c><c r="B{row}" t="s"><v>5</v></c></row>'
                   for row in range(3, 50_000))
    parts[SHEET] = parts[SHEET].replace(b"</sheetData>", rows.encode() + b"</sheetData>")
    return packed(parts)


def claiming(dimension: str) -> bytes:
    return with_sheet(lambda sheet: sheet.replace('ref="A1:D2"', f'ref="{dimension}"'))


def wide_sheet() -> bytes:
    """16 384 columns, each with a heading, in a sheet that says nothing of its dimension."""
    cells = "".join(f"<c><v>{number}</v></c>" for number in range(16_384))
    return with_sheet(lambda sheet: sheet.replace('<dimension ref="A1:D2"/>', "").replace(
        "</sheetData>", f'<row r="3">{cells}</row></sheetData>'))


def archives_in_archives() -> bytes:
    """Archives of archives, five deep, 655 GB in all: nothing here unpacks what it has unpacked."""
    inner = packed({"zeros": b"0" * 10_000_000})
    for _ in range(4):
        inner = packed({f"{number}.zip": inner for number in range(16)})
    return packed({"1.zip": inner})


def with_entities() -> bytes:
    """Shared strings with a tower of entities."""
    tower = "".join(f'<!ENTITY e{number} "{f"&e{number - 1};" * 10}">' for number in range(1, 10))
    strings = parts_of(a_workbook())["xl/sharedStrings.xml"].decode()
    head, _, body = strings.partition("<sst")
    body = body.replace("Beef topside", "&e9;")
    return with_part("xl/sharedStrings.xml", f'{head}<!DOCTYPE sst [<!ENTITY e0 "beef">{tower}]><sst{body}'.encode())


def with_macros() -> bytes:
    return with_part("xl/vbaProject.bin", b"\0" * 1000)


def endless_directory() -> bytes:
    """A directory of 60 000 members, each empty."""
    return packed({f"xl/worksheets/sheet{number}.xml": b"" for number in range(60_000)}, zipfile.ZIP_STORED)


HOSTILE_WORKBOOKS: Corpus = {
    "bomb of overlapping parts": (overlapping, "overlaps|one name"),
    "bomb of quoted parts": (quoting, "overlaps"),
    "archives in archives": (archives_in_archives, "no workbook"),
    "sheet of 420 MB": (sheet_of_zeros, "unpacks to"),
    "sheet of 420 MB that lies": (sheet_of_zeros_that_lies, "more than 100 times|not of the size"),
    "two far columns": (sheet_of_numbers, "MiB of memory"),
    "cell at XFD1048576": (one_far_cell, "MiB of memory|1,048,576 rows"),
    "merged areas": (merged_areas, "Name the columns"),
    "shared strings bomb": (shared_strings_bomb, "MiB of memory|characters"),
    "a thousand million rows claimed": (lambda: claiming("A1:D1073741824"), "1,073,741,824 rows"),
    "16 384 columns claimed": (lambda: claiming("A1:XFD2"), "16,384 columns"),
    "16 384 columns": (wide_sheet, "16,384 columns"),
    "entities in a workbook": (with_entities, "damaged"),
    "encrypted workbook": (lambda: compound_file(("EncryptionInfo", "EncryptedPackage")), "without a password"),
    "encrypted part": (lambda: flagged_as_encrypted(a_workbook()), "without a password"),
    "old workbook": (lambda: compound_file(("Workbook",)), "old kind"),
    "macros": (with_macros, "macros"),
    "endless directory": (endless_directory, "60000 parts"),
    "workbook cut short": (lambda: many_rows(2000)[:-2000], "cut short"),
}
