"""Workbooks are read as a person sees them: values, days, errors, the sheet with the list."""

import datetime
import io
import struct
import zipfile
from decimal import Decimal
from typing import Any

import pytest
from xlsxwriter.workbook import Workbook

from service.domain.errors import ColumnsNotRecognised, UnreadableFile
from service.domain.price_list import FileFormat, PriceList
from service.integrations.price_lists.xlsx import read_workbook
from service.use_cases.price_files import HowToRead
from tests.integrations.price_lists.workbooks import HEADER, TOPSIDE, a_workbook, parts_of, with_sheet


def read(content: bytes, **how: str) -> PriceList:
    return read_workbook(content, HowToRead({}, **how))


def test_a_list_is_read_with_its_places() -> None:
    said = read(a_workbook({"Prices": [["Our prices"], [], HEADER, TOPSIDE, ["10-2", "Shin", "kg", 9]]}))
    assert said.format is FileFormat.XLSX
    assert [(row.place, row.item, row.amount, row.per_unit) for row in said.rows] == [
        ("row 4", "10-2345", Decimal("14.2"), "kg"), ("row 5", "10-2", Decimal("9"), "kg")]
    assert said.layout is not None
    assert (said.layout.sheet, said.layout.header_line) == ("Prices", 3)


@pytest.mark.parametrize(("stored", "typed"), [
    # IEEE 754: the doubles beside the decimals that were typed, as programs that compute in doubles store them.
    ("14.199999999999999", "14.2"), ("0.30000000000000004", "0.3"), ("1.1000000000000001", "1.1"),
    ("123456.78", "123456.78"), ("5", "5"), ("1E-3", "0.001"), ("999999999999.99", "999999999999.99"),
])
def test_a_number_is_the_decimal_that_was_typed(stored: str, typed: str) -> None:
    said = read(with_sheet(lambda sheet: sheet.replace("<v>14.2</v>", f"<v>{stored}</v>")))
    assert said.rows[0].amount == Decimal(typed)


def test_a_code_kept_as_a_number_has_no_decimals() -> None:
    said = read(a_workbook({"Prices": [HEADER, [102345, "Topside", "kg", 14.2]]}))
    assert said.rows[0].item == "102345"


def test_a_formula_is_its_value_as_last_computed() -> None:
    def formulas(workbook: Workbook) -> None:
        sheet = workbook.get_worksheet_by_name("Prices")
        sheet.write_formula("A2", '="10-"&"7"', None, "10-7")
        sheet.write_formula("D2", "=10*1.42", None, 14.2)
    said = read(a_workbook(write=formulas))
    assert (said.rows[0].item, said.rows[0].amount) == ("10-7", Decimal("14.2"))


def test_an_error_is_told_as_a_person_sees_it() -> None:
    def error(workbook: Workbook) -> None:
        workbook.get_worksheet_by_name("Prices").write_formula("D3", "=VLOOKUP(1,A1:B2,2)", None, "#N/A")
    said = read(a_workbook({"Prices": [HEADER, TOPSIDE, ["10-2", "Shin", "kg"]]}, write=error))
    good, bad = said.rows
    assert (good.amount, good.faults) == (Decimal("14.2"), ())
    assert (bad.amount, bad.amount_text, len(bad.faults)) == (None, "#N/A", 1)


def test_a_formula_that_was_never_computed_says_so() -> None:
    said = read(with_sheet(lambda sheet: sheet.replace("<v>14.2</v>", "<f>10*1.42</f>")))
    assert said.rows[0].amount is None
    assert "not computed" in said.rows[0].amount_text


def test_a_formula_with_an_empty_text_is_empty() -> None:
    def empty(sheet: str) -> str:
        return sheet.replace('<c r="B2" t="s"><v>5</v></c>', '<c r="B2" t="str"><f>IF(TRUE,"","x")</f><v></v></c>')
    assert read(with_sheet(empty)).rows[0].name == ""


def test_days_are_days_in_either_calendar() -> None:
    rows = [[*HEADER, "Valid from"], [*TOPSIDE, datetime.date(2026, 12, 1)]]
    since_1900, since_1904 = (read(a_workbook({"Prices": rows}, date_1904=which)) for which in (False, True))
    assert since_1900.rows[0].starts == since_1904.rows[0].starts == datetime.date(2026, 12, 1)


def test_text_that_looks_like_a_formula_is_text() -> None:
    said = read(a_workbook({"Prices": [HEADER, ["=1+1", "@SUM(A1)", "kg", 1], ["+44", "-x", "kg", 2]]}))
    assert [(row.item, row.name) for row in said.rows] == [("=1+1", "@SUM(A1)"), ("+44", "-x")]


def test_the_first_sheet_that_looks_like_a_list_is_read() -> None:
    said = read(a_workbook({"Welcome": [["Dear customer"]], "Prices": [HEADER, TOPSIDE], "Old": [HEADER, TOPSIDE]}))
    assert said.layout is not None
    assert said.layout.sheet == "Prices"


def test_a_hidden_sheet_is_read_when_it_is_named_only() -> None:
    def hide(workbook: Workbook) -> None:
        workbook.get_worksheet_by_name("Prices").hide()
    content = a_workbook({"Welcome": [["Dear customer"]], "Prices": [HEADER, TOPSIDE]}, write=hide)
    with pytest.raises(ColumnsNotRecognised):
        read(content)
    assert len(read(content, sheet="Prices").rows) == 1


def test_the_sheet_that_is_named_is_read_whatever_its_case() -> None:
    content = a_workbook({"Prices": [HEADER, TOPSIDE], "Export list": [HEADER, ["9", "Shin", "kg", 3]]})
    assert read(content, sheet="export LIST ").rows[0].name == "Shin"


def test_a_sheet_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(UnreadableFile, match=r"it has Prices, Notes\.") as refused:
        read(a_workbook({"Prices": [HEADER, TOPSIDE], "Notes": []}), sheet="Export")
    assert refused.value.more["why"] == "no-such-sheet"


def test_no_list_in_any_sheet_names_the_sheets() -> None:
    with pytest.raises(ColumnsNotRecognised, match="Welcome, Terms") as refused:
        read(a_workbook({"Welcome": [["Dear customer", "x"]], "Terms": [["Net in 30 days"]]}))
    assert refused.value.more["sheets"] == ["Welcome", "Terms"]


def test_an_empty_workbook_is_refused() -> None:
    with pytest.raises(UnreadableFile, match="empty"):
        read(a_workbook({"Prices": []}))


def test_a_list_that_does_not_begin_at_the_corner_is_read() -> None:
    blank = [None, None, None]
    said = read(a_workbook({"Prices": [[], [*blank, *HEADER], [*blank, *TOPSIDE]]}))
    assert (said.rows[0].place, said.rows[0].amount) == ("row 3", Decimal("14.2"))


def test_an_error_in_a_list_that_does_not_begin_at_the_corner_keeps_its_column() -> None:
    def error(workbook: Workbook) -> None:
        workbook.get_worksheet_by_name("Prices").write_formula("G3", "=1/0", None, "#DIV/0!")
    blank = [None, None, None]
    said = read(a_workbook({"Prices": [[], [*blank, *HEADER], [*blank, *TOPSIDE]]}, write=error))
    assert said.rows[0].amount_text == "#DIV/0!"


def test_merged_areas_cost_nothing() -> None:
    """Merged over all the cells that a sheet can have: readers that spread the first cell run out of memory."""
    def merged(sheet: str) -> str:
        area = '<mergeCells count="1"><mergeCell ref="A9:XFD1048576"/></mergeCells>'
        return sheet.replace("</sheetData>", f"</sheetData>{area}")
    assert len(read(with_sheet(merged)).rows) == 1


class OneWay(io.RawIOBase):
    """A file that can be written to and not gone back in, as an answer over HTTP is."""

    def __init__(self) -> None:
        self.written = bytearray()

    def writable(self) -> bool:
        return True

    def write(self, some: Any) -> int:
        self.written += some
        return len(some)


def test_a_workbook_written_in_one_go_is_read() -> None:
    """Sizes then stand behind each part and not before it (bit 3 of the flags), as many servers write."""
    file = OneWay()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts_of(a_workbook()).items():
            archive.writestr(name, content)
    assert file.written[6] & 8
    assert len(read(bytes(file.written)).rows) == 1


def test_a_workbook_with_the_ends_of_a_large_archive_is_read() -> None:
    """The second end that ZIP64 has (APPNOTE 4.3.14 and 4.3.15), which some programs write whatever the size."""
    content = a_workbook()
    place = content.index(b"PK\5\6")
    *_, count, size, start, _ = struct.unpack_from("<4s4H2LH", content, place)
    large = struct.pack("<4sQ2H2L4Q", b"PK\6\6", 44, 45, 45, 0, 0, count, count, size, start)
    locator = struct.pack("<4sLQL", b"PK\6\7", 0, place, 1)
    assert len(read(content[:place] + large + locator + content[place:]).rows) == 1


def test_links_to_elsewhere_are_not_followed_and_harm_nothing() -> None:
    def links(workbook: Workbook) -> None:
        workbook.get_worksheet_by_name("Prices").write_url("B2", "https://example.com/prices", string="Topside")
    assert read(a_workbook(write=links)).rows[0].name == "Topside"
