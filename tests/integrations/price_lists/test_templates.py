"""Templates for suppliers read back as they went out, with the prices filled in, and no question asked.

The workbook is opened, filled in and saved by a real spreadsheet program; where none is at hand, that test is skipped
(on CI it fails).
"""

import csv
import re
import zipfile
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO, StringIO
from pathlib import Path
from unicodedata import normalize

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.price_list import PriceList
from service.domain.quantity import UNITS
from service.domain.supplier_item import Pack, SupplierItem
from service.integrations.price_lists.reading import read_price_file
from service.integrations.price_lists.templates import HEADERS, csv_template, xlsx_template
from tests.integrations.price_lists.spreadsheet_program import opened_and_saved
from tests.integrations.price_lists.tables import NOBODY_SAYS


def an_item(code: str, name: str = "Beef topside", pack: str = "case 2 5 kg", per: str = "kg") -> SupplierItem:
    kind, count, quantity, unit = pack.split()
    return SupplierItem("fenmoor", code, name, "beef-topside", Pack(kind, Decimal(count), Decimal(quantity), unit), per)


ITEMS = [an_item("10-1"), an_item("=1+1", "@SUM(A1), \"diced\"", per="pack"), an_item("'=1+1", "''-x; y"),
         an_item("+44", "Kräuter", "bunch 1 0.125 kg", "each"), an_item("00123", "-", "sack 1 1000 g", "g")]


def same_items(found: PriceList, items: Sequence[SupplierItem]) -> bool:
    read = [(row.item, row.name, row.per_unit, row.pack and (row.pack.count, row.pack.quantity, row.pack.unit))
            for row in found.rows]
    return read == [(item.code, item.name, item.priced_per, (item.pack.count, item.pack.quantity, item.pack.unit))
                    for item in items]


def filled_in(template: bytes, mark: str = ".") -> bytes:
    """The CSV template as a supplier sends it back: with a price in each row, and the day."""
    rows = list(csv.reader(StringIO(template.decode("utf-8-sig"), newline="")))
    start = rows.index(list(HEADERS)) + 1
    for number, row in enumerate(rows[start:]):
        row[HEADERS.index("Price")] = f"{number + 1}{mark}50"
    rows[2][1] = "01.12.2026"
    text = StringIO(newline="")
    csv.writer(text, delimiter=";" if mark == "," else ",").writerows(rows)
    return text.getvalue().encode("cp1252" if mark == "," else "utf-8")


@pytest.mark.parametrize("mark", [".", ","])
def test_a_csv_template_comes_back_as_it_went_out(mark: str) -> None:
    found = read_price_file(filled_in(csv_template(ITEMS, "EUR"), mark), NOBODY_SAYS)
    assert same_items(found, ITEMS)
    assert [row.amount for row in found.rows] == [Decimal(f"{number}.50") for number in range(1, len(ITEMS) + 1)]
    assert (found.currency, found.starts, {row.faults for row in found.rows}) == ("EUR", date(2026, 12, 1), {()})
    assert found.rows[0].pack == ITEMS[0].pack


@pytest.mark.parametrize("make", [csv_template, xlsx_template])
def test_an_empty_template_asks_nothing_and_says_that_prices_are_missing(make: type) -> None:
    found = read_price_file(make(ITEMS, "GBP"), NOBODY_SAYS)
    assert same_items(found, ITEMS)
    assert found.layout is not None
    assert [header for _, header in found.layout.columns] == list(HEADERS)
    assert (found.currency, found.starts, found.reference) == ("GBP", None, "")
    assert {tuple(fault.column for fault in row.faults) for row in found.rows} == {("Price",)}


def test_a_csv_template_shows_no_spreadsheet_a_formula() -> None:
    cells = [cell for row in csv.reader(StringIO(csv_template(ITEMS, "EUR").decode("utf-8-sig"))) for cell in row]
    assert "'=1+1" in cells
    assert [cell for cell in cells if cell[:1] in ("=", "+", "-", "@")] == []


def test_a_workbook_template_has_text_no_formulas_and_a_header_in_sight() -> None:
    with zipfile.ZipFile(BytesIO(xlsx_template(ITEMS, "EUR"))) as archive:
        sheet, texts = archive.read("xl/worksheets/sheet1.xml").decode(), archive.read("xl/sharedStrings.xml").decode()
    assert "<f>" not in sheet
    assert "<t>=1+1</t>" in texts
    assert 'topLeftCell="A6"' in sheet
    assert 'state="frozen"' in sheet
    assert 'type="decimal"' in sheet


def test_the_same_items_make_the_same_bytes() -> None:
    assert xlsx_template(ITEMS, "EUR") == xlsx_template(ITEMS, "EUR")


def filled_in_workbook(template: bytes) -> bytes:
    """The workbook as it is saved when somebody has typed prices and the day into the yellow cells."""
    day = (date(2026, 12, 1) - date(1899, 12, 30)).days  # ECMA-376 part 1, "Dates and times": days are numbered so.
    target = BytesIO()
    with zipfile.ZipFile(BytesIO(template)) as archive, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as filled:
        for member in archive.infolist():
            part = archive.read(member)
            if member.filename == "xl/worksheets/sheet1.xml":
                part = re.sub(rb'(<c r="B3" s="\d+")/>', rb"\1><v>%d</v></c>" % day, part)
                part = re.sub(rb'(<c r="E(\d+)" s="\d+")/>', rb"\1><v>\2.5</v></c>", part)
            filled.writestr(member, part)
    return target.getvalue()


def test_a_workbook_template_comes_back_as_it_went_out() -> None:
    found = read_price_file(filled_in_workbook(xlsx_template(ITEMS, "EUR")), NOBODY_SAYS)
    assert same_items(found, ITEMS)
    assert [row.amount for row in found.rows] == [Decimal(f"{row}.5") for row in range(6, 6 + len(ITEMS))]
    assert (found.currency, found.starts, {row.faults for row in found.rows}) == ("EUR", date(2026, 12, 1), {()})


def test_a_workbook_template_survives_a_real_spreadsheet_program(tmp_path: Path) -> None:
    (tmp_path / "list.xlsx").write_bytes(xlsx_template(ITEMS, "EUR"))
    assert same_items(read_price_file(opened_and_saved(tmp_path / "list.xlsx"), NOBODY_SAYS), ITEMS)


TEXT = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=20)
ANY_ITEMS = st.lists(st.builds(
    SupplierItem, st.just("fenmoor"), TEXT.map(lambda text: f"{text}1"), TEXT, st.just("beef-topside"),
    st.builds(Pack, TEXT, st.integers(1, 999).map(Decimal), st.decimals(Decimal("0.001"), 9999, places=3),
              st.sampled_from(sorted(UNITS))),
    st.sampled_from([*sorted(UNITS), "pack"])), min_size=1, max_size=8)


@settings(deadline=None)
@given(ANY_ITEMS)
def test_any_items_come_back_from_a_csv_template(items: list[SupplierItem]) -> None:
    found = read_price_file(csv_template(items, "EUR"), NOBODY_SAYS)
    assert [(row.item, row.name) for row in found.rows] == [
        (normalize("NFC", item.code), normalize("NFC", item.name)) for item in items]
    assert [(row.per_unit, row.pack and row.pack.holds) for row in found.rows] == [
        (item.priced_per, item.pack.holds) for item in items]
