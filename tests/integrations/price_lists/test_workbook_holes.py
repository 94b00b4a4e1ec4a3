"""Cells that a person sees something in and the reader does not are found wherever they stand in a sheet."""

import random
import time

import pytest

from service.integrations.price_lists.archive import Archive
from service.integrations.price_lists.workbook_checks import checked_archive
from service.integrations.price_lists.workbook_holes import NOT_COMPUTED, count_and_find_holes
from tests.integrations.price_lists.workbooks import SHEET, a_workbook, with_part, with_sheet

COLUMNS = "ABCDEFG"
MOST_SECONDS = 2.0
"""Of processors; the worst of these took 1.0 when it was written."""


def with_rows(rows: str) -> Archive:
    return checked_archive(with_sheet(lambda sheet: sheet.replace("</sheetData>", f"{rows}</sheetData>")))


def holes_in(rows: str) -> dict[tuple[int, str], str]:
    found = count_and_find_holes(with_rows(rows)).get("Prices", {})
    return {(row, COLUMNS[column]): text for row, cells in found.items() for column, text in cells.items()}


def a_cell(place: str, chance: random.Random) -> tuple[str, str]:
    """A cell as programs write it, and what a person sees there that the reader does not."""
    formula = "X" * chance.randrange(2_000)
    return chance.choice([
        (f'<c r="{place}" s="1" t="e"><f>{formula}</f><v>#N/A</v></c>', "#N/A"),
        (f'<c r="{place}" t="e"><v>#DIV/0!</v></c>', "#DIV/0!"), (f'<c r="{place}"><f>{formula}</f></c>', NOT_COMPUTED),
        (f'<c r="{place}"><f>{formula}</f><v></v></c>', NOT_COMPUTED),
        (f'<c r="{place}"><f>{formula}</f><v>7</v></c>', ""),
        (f'<c r="{place}" t="str"><f>{formula}</f><v></v></c>', ""), (f'<c r="{place}"><v>7</v></c>', "")])


@pytest.mark.parametrize("seed", range(4))
def test_every_hole_is_found_also_on_the_seams_between_pieces(seed: int) -> None:
    """A sheet of some megabytes is unpacked in dozens of pieces, and cells lie across their seams."""
    chance, rows, written = random.Random(seed), [], {}
    for row in range(3, 500):
        cells = [(column, *a_cell(f"{column}{row}", chance)) for column in COLUMNS]
        written |= {(row, column): text for column, _, text in cells if text}
        rows.append(f'<row r="{row}">{"".join(cell for _, cell, _ in cells)}</row>')
    assert len(written) > 500
    assert holes_in("".join(rows)) == written


def test_sheets_are_told_by_their_names_and_not_by_their_places() -> None:
    one = b'<row r="2"><c r="A2"><f>1</f></c></row>'
    other = b'<row r="1"><c r="B1" t="e"><v>#REF!</v></c></row>'
    content = a_workbook({"Chef's & Co": [["x"]], "Prices": [["x"]]})
    for part, row in ((SHEET, one), (SHEET.replace("1", "2"), other)):
        content = with_part(part, b"<worksheet><sheetData>" + row + b"</sheetData></worksheet>", content)
    assert count_and_find_holes(checked_archive(content)) == {
        "Chef's & Co": {2: {0: NOT_COMPUTED}}, "Prices": {1: {1: "#REF!"}}}


@pytest.mark.parametrize("hostile", ['<c t="e">', '<c t="e">' + "x" * 1_000, "</f></c>", "</f>", "<c " + 'y="1" ' * 45])
def test_signs_without_cells_take_little_time(hostile: str) -> None:
    """As many as 90 MB hold, beside some noise that keeps the ratio within what is unpacked at all."""
    noise = "".join(random.Random(1).choices("abcdefghijklmnopqrstuvwxyz0123456789", k=1_300_000))
    archive = with_rows(hostile * (90_000_000 // len(hostile)) + '<c t="e">' + noise)
    begun = time.process_time()
    found = count_and_find_holes(archive)
    assert time.process_time() - begun < MOST_SECONDS
    assert sum(map(len, found.get("Prices", {}).values())) <= 1
