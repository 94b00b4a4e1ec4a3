"""Workbooks that a real spreadsheet program wrote (LibreOffice, headless), opened by the habits of two countries."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from service.domain.price_list import PriceRow
from service.integrations.price_lists.xlsx import read_workbook
from service.use_cases.price_files import HowToRead
from tests.integrations.price_lists.spreadsheet_program import as_text, opened_and_saved

BRITISH, GERMAN = 2057, 1031
ENGLISH_TABLE = """Code,Description,Unit,Price,Valid from
10-2345,"Beef topside, chilled",kg,14.20,01/12/2026
10-77,Shin,kg,"1,234.50",02/12/2026
0099,Cheek,kg,0.07,03/12/2026
"""
GERMAN_TABLE = """Artikelnummer;Bezeichnung;Einheit;Preis;Gültig ab
10-2345;"Rinderhüfte; gekühlt";kg;14,20;01.12.2026
10-77;Hesse;kg;1.234,50;02.12.2026
0099;Bäckchen;kg;0,07;03.12.2026
"""
TABLE_WITH_FORMULAS = """<?xml version="1.0" encoding="UTF-8"?>
<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
 xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2" office:version="1.2"
 office:mimetype="application/vnd.oasis.opendocument.spreadsheet"><office:body><office:spreadsheet>
<table:table table:name="Notes"><table:table-row><table:table-cell office:value-type="string">
<text:p>Dear customer</text:p></table:table-cell></table:table-row></table:table>
<table:table table:name="Prices">{rows}</table:table>
</office:spreadsheet></office:body></office:document>
"""


def rows_of(content: bytes) -> tuple[PriceRow, ...]:
    return read_workbook(content, HowToRead({})).rows


@pytest.mark.parametrize(("table", "delimiter", "language"), [
    (ENGLISH_TABLE, ",", BRITISH), (GERMAN_TABLE, ";", GERMAN)], ids=["en-GB", "de-DE"])
def test_a_table_is_the_same_by_the_habits_of_two_countries(
        table: str, delimiter: str, language: int, tmp_path: Path) -> None:
    file = tmp_path / "list.csv"
    file.write_text(table, encoding="utf-8")
    rows = rows_of(opened_and_saved(file, as_text(delimiter, language)))
    assert [(row.place, row.item, row.amount, row.per_unit, row.starts) for row in rows] == [
        ("row 2", "10-2345", Decimal("14.2"), "kg", date(2026, 12, 1)),
        ("row 3", "10-77", Decimal("1234.5"), "kg", date(2026, 12, 2)),
        # The program took the code for a number, and the workbook no longer knows its zeros.
        ("row 4", "99", Decimal("0.07"), "kg", date(2026, 12, 3))]
    assert rows[0].name == ("Beef topside, chilled" if language == BRITISH else "Rinderhüfte; gekühlt")


def test_formulas_are_what_the_program_computed(tmp_path: Path) -> None:
    """10 times 1.42, and a tenth and two tenths, whose doubles are beside 14.2 and 0.3; text of two parts; errors."""
    said = [("Code", "Description", "Unit", "Price"), ('of:="10-"&amp;"7"', "Shin", "kg", "of:=10*1.42"),
            ("10-8", 'of:="Che"&amp;"ek"', "kg", "of:=0.1+0.2"), ("10-9", "Rib", "kg", "of:=NA()"),
            ("10-10", "Loin", "kg", "of:=1/0")]
    file = tmp_path / "list.fods"
    file.write_text(TABLE_WITH_FORMULAS.format(rows="".join(map(a_row, said))), encoding="utf-8")
    rows = rows_of(opened_and_saved(file))
    assert [(row.item, row.name, row.amount, row.amount_text, bool(row.faults)) for row in rows] == [
        ("10-7", "Shin", Decimal("14.2"), "14.2", False), ("10-8", "Cheek", Decimal("0.3"), "0.3", False),
        ("10-9", "Rib", None, "#N/A", True), ("10-10", "Loin", None, "#DIV/0!", True)]


def a_row(cells: tuple[str, ...]) -> str:
    """A row of an OpenDocument table: formulas to be computed, and text."""
    return "<table:table-row>" + "".join(
        f"<table:table-cell table:formula='{cell}'/>" if cell.startswith("of:=") else
        f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>'
        for cell in cells) + "</table:table-row>"
