"""A Catalogue is read by the paths of Peppol BIS Catalogue 3 (transaction T19)."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.errors import UnreadableFile
from service.domain.price_list import FileFormat, PriceRow
from service.domain.supplier_item import Pack
from service.integrations.price_lists.ubl import read_ubl
from tests.integrations.price_lists.ubl_documents import (
    a_catalogue,
    a_line,
    a_price,
    an_item,
    cac,
    cbc,
    document,
    element,
    period,
)

GTIN = "4006381333931"
"""A number of 13 digits whose last is its check digit (GS1 General Specifications, 7.9)."""


def the_row(line: str) -> PriceRow:
    (row,) = read_ubl(a_catalogue(line)).rows
    return row


def test_the_document_says_whose_list_it_is_and_from_when() -> None:
    said = read_ubl(a_catalogue(a_line(a_price()), valid=period("ValidityPeriod", "2026-12-01", "2027-05-31")))
    assert said.format is FileFormat.CATALOGUE
    assert (said.reference, said.supplier_name, said.currency) == ("List 12 version 2", "Fenmoor Meats", "EUR")
    assert (said.issued_on, said.starts, said.ends) == (date(2026, 11, 2), date(2026, 12, 1), date(2027, 5, 31))
    assert (said.complete, said.is_invoice, said.layout) == (True, False, None)


def test_a_line_is_an_item_with_its_pack_and_price() -> None:
    """The pack of reference example: a case of two primals of 5 kg each."""
    size = cbc("PackQuantity", "1", unitCode="XCS") + cbc("PackSizeNumeric", "2")
    row = the_row(a_line(a_price("142.00"), content=("5", "KGM"), item=an_item(gtin=GTIN, before=size)))
    assert (row.number, row.place, row.item, row.gtin, row.name) == (1, "line 1", "10-2345", GTIN, "Beef topside")
    assert (row.amount, row.amount_text, row.currency) == (Decimal("142.00"), "142.00", "EUR")
    assert (row.per_quantity, row.per_unit, row.per_unit_text) == (1, "pack", "XCS")
    assert row.pack == Pack("case", Decimal(2), Decimal(5), "kg")
    assert row.faults == ()


@pytest.mark.parametrize(("base", "unit", "quantity", "named"), [
    ("", "", 1, "pack"), ("10", "KGM", 10, "kg"), ("1", "HGM", 100, "g"), ("5", "LTR", 5, "l"),
    ("12", "EA", 12, "each"),
])
def test_a_price_is_for_its_base_quantity_or_else_for_one_orderable_unit(
        base: str, unit: str, quantity: int, named: str) -> None:
    """tir19-p024 and tir19-035; codes by UN/ECE Recommendation 20: KGM kilogram, HGM hectogram (100 g), EA each."""
    row = the_row(a_line(a_price("142.00", base, unit)))
    assert (row.amount, row.per_quantity, row.per_unit) == (Decimal("142.00"), quantity, named)


def test_a_unit_that_is_not_known_is_told_in_its_own_word() -> None:
    row = the_row(a_line(a_price("142.00", "1", "MTK")))
    assert (row.per_unit, row.per_unit_text, row.faults) == (None, "MTK", ())


def test_a_price_for_another_package_needs_the_factor_between_them() -> None:
    """OrderableUnitFactorRate (tir19-p035): a pallet of 40 cases, priced by the case."""
    row = the_row(a_line(a_price("142.00", "1", "XCS", factor="40"), orderable="XPX"))
    assert (row.amount, row.per_quantity, row.per_unit) == (Decimal("5680.00"), 1, "pack")
    without = the_row(a_line(a_price("142.00", "1", "XCS"), orderable="XPX"))
    assert [fault.column for fault in without.faults] == ["cac:Price/cbc:OrderableUnitFactorRate"]


def test_steps_of_quantity_and_regions_are_rows_of_their_own() -> None:
    line = a_line(a_price("142.00", least="1"), a_price("139.00", least="10"), a_price("150.00", city="Kilmoor"))
    rows = read_ubl(a_catalogue(line)).rows
    assert [(row.number, row.place, row.amount, row.at_least) for row in rows] == [
        (1, "line 1, price 1", Decimal("142.00"), 1), (2, "line 1, price 2", Decimal("139.00"), 10),
        (3, "line 1, price 3 (Kilmoor, IE)", Decimal("150.00"), None)]


def test_the_innermost_period_holds() -> None:
    """List, line, price, nested (rules R017, R018); on an end date a price still holds (tir19-057)."""
    of_line = period("LineValidityPeriod", "2026-12-05", "2027-03-31")
    of_price = period("ValidityPeriod", "2026-12-24")
    lines = [a_line(a_price(), number="1"), a_line(a_price(), number="2", valid=of_line),
             a_line(a_price(periods=[of_price]), number="3", valid=of_line)]
    said = read_ubl(a_catalogue(*lines, valid=period("ValidityPeriod", "2026-12-01", "2027-05-31")))
    assert said.starts == date(2026, 12, 1)
    assert [(row.starts, row.ends) for row in said.rows] == [
        (None, None), (date(2026, 12, 5), date(2027, 3, 31)), (date(2026, 12, 24), date(2027, 3, 31))]


def test_each_period_of_a_price_is_a_row() -> None:
    both = [period("ValidityPeriod", "2026-12-01", "2026-12-31"), period("ValidityPeriod", "2027-02-01", "2027-02-28")]
    rows = read_ubl(a_catalogue(a_line(a_price(periods=both)))).rows
    assert [(row.starts, row.ends) for row in rows] == [
        (date(2026, 12, 1), date(2026, 12, 31)), (date(2027, 2, 1), date(2027, 2, 28))]


@pytest.mark.parametrize(("action", "of_line", "complete", "ended"), [
    ("", "", True, False), ("Replace", "", True, False), ("Add", "Add", True, False), ("Add", "Update", False, False),
    ("Update", "Update", False, False), ("Update", "Delete", False, True), ("", "Delete", False, True),
    ("Replace", "Delete", True, False), ("Delete", "Delete", False, True),
])
def test_actions_say_what_ends_and_whether_the_list_is_whole(
        action: str, of_line: str, complete: bool, ended: bool) -> None:
    """Codes ActionCode_header and ActionCode_line: where the whole is replaced, a line's own action says nothing."""
    said = read_ubl(a_catalogue(a_line(a_price(), action=of_line), action=action))
    assert (said.complete, said.rows[0].ended) == (complete, ended)


def test_a_line_that_ends_needs_no_price() -> None:
    row = the_row(a_line(action="Delete", item=an_item(code="", gtin=GTIN)))
    assert (row.ended, row.gtin, row.amount, row.faults) == (True, GTIN, None, ())


@pytest.mark.parametrize(("line", "column", "sentence"), [
    (a_line(), "cac:Price/cbc:PriceAmount", "no price"),
    (a_line(a_price("-1")), "cac:Price/cbc:PriceAmount", "R015"),
    (a_line(a_price("14,20")), "cac:Price/cbc:PriceAmount", "as in 14.20"),
    (a_line(a_price("1e3")), "cac:Price/cbc:PriceAmount", "no number"),
    (a_line(a_price("0.1234567")), "cac:Price/cbc:PriceAmount", "too many digits"),
    (a_line(a_price(base="0", unit="KGM")), "cac:Price/cbc:BaseQuantity", "not above zero"),
    (a_line(a_price(), valid=period("LineValidityPeriod", "1.12.2026")), "cac:LineValidityPeriod/cbc:StartDate",
     "no date"),
    (a_line(a_price(), valid=period("LineValidityPeriod", "2026-12-02", "2026-12-01")), "cac:ValidityPeriod", "before"),
    (a_line(a_price(), content=("0", "KGM")), "cbc:ContentUnitQuantity", "not above zero"),
])
def test_what_cannot_be_read_is_the_rows_own_fault(line: str, column: str, sentence: str) -> None:
    bad, good = read_ubl(a_catalogue(line, a_line(a_price(), number="2"))).rows
    assert [(fault.column, sentence in fault.detail) for fault in bad.faults] == [(column, True)]
    assert (good.amount, good.faults) == (Decimal("142.00"), ())


@pytest.mark.parametrize(("scheme", "text", "gtin"), [
    ("0160", GTIN, GTIN), ("0088", GTIN, ""), ("0160", "12345", ""), ("0160", "12345678", "12345678"),
])
def test_a_gtin_is_what_its_scheme_says(scheme: str, text: str, gtin: str) -> None:
    """Scheme 0160 is the GTIN, 0088 the GLN of a place (ISO 6523 ICD list)."""
    item = cac("Item", cbc("Name", "Topside"), cac("StandardItemIdentification", cbc("ID", text, schemeID=scheme)))
    assert the_row(a_line(a_price(), item=item)).gtin == gtin


def test_extensions_and_embedded_documents_are_passed_over() -> None:
    extension = element("ext:UBLExtensions", element("ext:UBLExtension", cbc("ID", "not the list's")))
    picture = cac("ItemSpecificationDocumentReference", cbc("ID", "1"), cac("Attachment", element(
        "cbc:EmbeddedDocumentBinaryObject", "QUJD" * 40_000, mimeCode="image/png")))
    item = an_item().replace("<cac:CommodityClassification>", f"{picture}<cac:CommodityClassification>")
    said = read_ubl(a_catalogue(extension, a_line(a_price(), item=item)))
    assert (said.reference, said.rows[0].name) == ("List 12 version 2", "Beef topside")


@pytest.mark.parametrize(("content", "why"), [
    (document("CreditNote", cbc("ID", "1")), "credit-note"), (document("Order", cbc("ID", "1")), "not-ubl"),
    ("<Catalogue><ID>1</ID></Catalogue>", "not-ubl"), ("<html><p>Prices</p></html>", "not-ubl"),
    (a_catalogue().decode(), "empty"), (a_catalogue(a_line(a_price()), cbc("Note", "late")).decode(), "not-ubl"),
    (a_catalogue(a_line(a_price())).decode()[:-5], "damaged"), ("<a", "damaged"), ("prices", "not-xml"),
])
def test_other_documents_are_refused_by_name(content: str, why: str) -> None:
    with pytest.raises(UnreadableFile) as refused:
        read_ubl(content.encode())
    assert refused.value.more["why"] == why
