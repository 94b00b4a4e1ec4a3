"""Tables: what stands before the header, between the rows and in them."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.errors import UnreadableFile
from service.domain.price_list import FileFormat, Layout, PriceList
from service.integrations.price_lists.cells import Cell, protected, unprotected
from service.integrations.price_lists.table_reading import looks_like_prices, read_table
from tests.integrations.price_lists.tables import NOBODY_SAYS, a_list, a_row, a_table, said

MESSY = """Fenmoor Wholesale;;;;;
Preisliste Nr.:;12/2026;;;;
Lieferant: Fenmoor Fleisch;;;;;
Stand;15.11.2026;;;;
Gültig ab 01.12.2026;;;;;
Alle Preise in EUR;;;;;
;;;;;
Art.-Nr.;Bezeichnung;Preis;Einheit;Gebinde;EAN
RIND;;;;;
10-2345;Oberschale;14,20;kg;2 x 5 kg;4006381333931
;;;;;
10-2346;"Hüfte; ""mager""\";1.234,50;Kiste;Kiste 8 kg;
Art.-Nr.;Bezeichnung;Preis;Einheit;Gebinde;EAN
SONSTIGES;;;;;
;Summe;;15;;
10-2347;Brühe;auf Anfrage;l;;
Alle Angaben ohne Gewähr;;;;;
"""


def test_a_messy_list_is_read_row_by_row() -> None:
    found = a_list(MESSY, "cp1252")
    assert [(row.number, row.place, row.item, row.amount, row.per_unit) for row in found.rows] == [
        (1, "line 10", "10-2345", Decimal("14.20"), "kg"), (2, "line 12", "10-2346", Decimal("1234.50"), "pack"),
        (3, "line 15", "", None, None), (4, "line 16", "10-2347", None, "l")]
    assert [[fault.column for fault in row.faults] for row in found.rows] == [[], [], ["Preis"], ["Preis"]]
    assert found.rows[1].name == 'Hüfte; "mager"'


def test_what_stands_before_the_header_is_taken_where_it_is_plain() -> None:
    found = a_list(MESSY, "cp1252")
    assert (found.reference, found.supplier_name, found.currency) == ("12/2026", "Fenmoor Fleisch", "EUR")
    assert (found.issued_on, found.starts, found.ends) == (date(2026, 11, 15), date(2026, 12, 1), None)
    assert {row.currency for row in found.rows} == {"EUR"}
    assert found.layout == Layout((("item", "Art.-Nr."), ("name", "Bezeichnung"), ("price", "Preis"),
        ("unit", "Einheit"),
                                   ("pack", "Gebinde"), ("gtin", "EAN")), 8, ",", ";", "windows-1252", "")


@pytest.mark.parametrize(("line", "field", "value"), [
    ("Price list;No. 7", "reference", "No. 7"), ("Price list: 7", "reference", "7"),
    ("Valid from;;2026-12-01", "starts", "day"),
    ("Valid from: 1 December 2026", "starts", "day"), ("Geldig vanaf 1 december 2026", "starts", "day"),
    ("Valid until 01.12.2026", "ends", "day"), ("Date;01.12.2026", "issued_on", "day"),
    ("Devise : EUR", "currency", "EUR"),
    ("Currency;Euro", "currency", "EUR"), ("Prices in £", "currency", "GBP"),
    ("Supplier;Fenmoor", "supplier_name", "Fenmoor"),
])
def test_what_a_line_before_the_header_says(line: str, field: str, value: str) -> None:
    found = a_list(f"{line}\nCode;Price\n1-1;4.50\n")
    assert getattr(found, field) == (date(2026, 12, 1) if value == "day" else value)


@pytest.mark.parametrize("line",
    ["Valid from;soon", "Date;", "Currency;Ducats", "Prices are net", "Supplier", "Valid from 1/2/2026",
                                  "Delivery: Tuesdays", "Price list"])
def test_what_is_not_plain_is_left(line: str) -> None:
    found = a_list(f"{line}\nCode;Price\n1-1;4.50\n")
    assert (found.reference, found.supplier_name, found.currency, found.issued_on, found.starts) == ("", "", "", None,
        None)


@pytest.mark.parametrize("row",
    [";;", "BEEF;;", "Group 1;;", ";Beef and veal;", " ;  ;\u00a0", "Code;Name;Price", "", "  "])
def test_a_row_that_says_nothing_is_passed_over(row: str) -> None:
    assert [each.item for each in a_table("Code;Name;Price", "1-1;a;1", row, "1-2;b;2").rows] == ["1-1", "1-2"]


@pytest.mark.parametrize(("row", "columns"), [
    ("10-2345;;", ["Price"]), ("10 2345;;", ["Price"]), (";;4.50", ["Code"]), ("BEEF;Shin;", ["Price"]),
    ("1-1;a;1;x", ["row"]),
    ("1-1;a", ["Price", "row"])])
def test_a_row_that_lacks_something_stays_with_its_fault(row: str, columns: list[str]) -> None:
    found = a_table("Code;Name;Price", "1-1;a;1", row, "1-2;b;2").rows
    assert [(each.amount, each.faults) for each in (found[0], found[2])] == [(1, ()), (2, ())]
    assert (found[1].amount, [fault.column for fault in found[1].faults]) == (4.5 if row == ";;4.50" else None, columns)


def test_empty_cells_beyond_the_header_are_none() -> None:
    assert a_row("Code;Name;Price;;", "1-1;a;1").faults == ()
    assert a_row("Code;Name;Price", "1-1;a;1;;;").faults == ()


def test_text_that_begins_like_a_formula_is_text() -> None:
    row = a_row("Code\tName\tPrice", "=1+1\t@SUM(A1)\t4.50")
    assert said(row, "item", "name", "faults") == ("=1+1", "@SUM(A1)", ())
    row = a_row("Code\tName\tPrice", "'-5\t'+44 beef\t4.50")
    assert said(row, "item", "name") == ("-5", "+44 beef")
    assert a_row("Code\tName\tPrice", "'s-1\t's Gravenhage beef\t4.50").name == "'s Gravenhage beef"


@pytest.mark.parametrize("text", ["=1", "'=1", "''=1", "-", "@", "\uff1d1", "beef", "'beef", "", "'", "''", "'+'"])
def test_protection_is_taken_off_once(text: str) -> None:
    assert unprotected(protected(text)) == text


def test_names_are_composed_and_controls_are_blanks() -> None:
    assert a_row("Code;Name;Price", '1-1;"Ru\u0308be\nfrisch\u200b";4.50').name == "R\u00fcbe frisch"


@pytest.mark.parametrize(("gtin", "read"), [
    ("4006381333931", "4006381333931"), ("4 006381 333931", "4006381333931"), ("96385074", "96385074"),
    ("614141000036", "614141000036"), ("10614141000415", "10614141000415"), ("4,00638E+12", ""), ("40063813339", ""),
    ("\u0664006381333931", ""), ("none", "")])
def test_a_gtin_is_its_digits(gtin: str, read: str) -> None:
    # Source: examples of a GTIN-13, -8, -12 and -14 in the GS1 General Specifications, from memory.
    row = a_row("Code;Price;EAN", f"1-1;4.50;{gtin}")
    assert (row.gtin, row.faults) == (read, ())
    alone = a_row("EAN;Price", f"{gtin};4.50")
    assert (alone.gtin, [fault.column for fault in alone.faults]) == (read, [] if read else ["EAN", "EAN"])


@pytest.mark.parametrize(("text", "quantity"),
    [("10", 10), ("from 10", 10), ("ab 10 kg", 10), (">= 10", 10), ("1", None),
                                                ("", None), ("0", None), ("1.000", 1000)])
def test_a_price_may_hold_from_a_quantity_on(text: str, quantity: int | None) -> None:
    row = a_row("Code;Price;From quantity", f"1-1;4,50;{text}")
    assert said(row, "at_least", "faults") == (quantity, ())


def test_a_quantity_that_is_none_is_a_fault() -> None:
    assert [fault.column for fault in a_row("Code;Price;From quantity", "1-1;4,50;some").faults] == ["From quantity"]


def test_a_row_s_fault_hides_no_other_fault_and_no_other_row() -> None:
    good, bad = a_table("Code;Price;Unit;Pack;Valid from;Currency", "1-1;4.50;kg;;2026-12-01;EUR",
                        ";x;case;1-2 kg;soon;Ducats").rows
    assert (good.amount, good.faults) == (Decimal("4.50"), ())
    assert sorted(fault.column for fault in bad.faults) == ["Code", "Currency", "Pack", "Price", "Valid from"]


@pytest.mark.parametrize("text", ["Code;Price\n", "Code;Price\n;\n\n", "Code;Price\nBEEF;\n"])
def test_a_header_alone_is_no_list(text: str) -> None:
    with pytest.raises(UnreadableFile, match="No row below the header") as refused:
        a_list(text)
    assert refused.value.more["why"] == "empty"


def of_cells(*rows: tuple[Cell, ...]) -> PriceList:
    """A table as a workbook gives it, with cells of several types."""
    return read_table(enumerate(rows, 1), NOBODY_SAYS, FileFormat.XLSX, sheet="Prices")


def test_a_workbook_s_cells_keep_their_types() -> None:
    found = of_cells(
        ("Valid from", date(2026, 12, 1), None, None, None, None),
        ("Code", "Price", "EAN", "Valid from", "Pack qty", "Pack unit"),
        (Decimal(102345), Decimal("14.20"), Decimal(4006381333931), date(2027, 1, 1), Decimal("1.125"), "kg"),
        ("10-1", "14,20", "", None, None, None), ("10-2", Decimal("-1"), None, Decimal(46357), None, None))
    one, two, three = found.rows
    assert found.starts == date(2026, 12, 1)
    assert said(one, "place", "item", "amount", "amount_text", "gtin", "starts", "faults") == (
        "row 3", "102345", Decimal("14.2"), "14.2", "4006381333931", date(2027, 1, 1), ())
    assert one.pack is not None
    assert one.pack.quantity == Decimal("1.125")
    assert said(two, "amount", "faults") == (Decimal("14.20"), ())
    assert (three.amount, [fault.column for fault in three.faults]) == (None, ["Price", "Valid from"])


def test_a_code_that_a_spreadsheet_made_a_day_is_told() -> None:
    found = of_cells(("Code", "Price"), (date(2026, 10, 1), Decimal(1)), ("10-2", Decimal(2)))
    assert [fault.column for fault in found.rows[0].faults] == ["Code"]
    assert found.rows[1].faults == ()


def test_a_price_that_a_spreadsheet_made_a_day_is_told() -> None:
    assert "is a day" in of_cells(("Code", "Price"), ("10-1", date(2026, 10, 1))).rows[0].faults[0].detail


def test_a_sheet_that_looks_like_prices_is_told_by_its_first_rows() -> None:
    assert looks_like_prices([("Terms",), ("Code", "Price")], NOBODY_SAYS)
    assert not looks_like_prices([("Terms",), ("Delivery on Tuesdays",), (None, Decimal(1))], NOBODY_SAYS)
    assert not looks_like_prices([], NOBODY_SAYS)
