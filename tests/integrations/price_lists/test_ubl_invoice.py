"""An Invoice is read by the paths of Peppol BIS Billing 3.0; BT and BG are the terms of EN 16931-1."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.errors import UnreadableFile
from service.domain.price_list import DocumentCharge, FileFormat, PriceRow
from service.integrations.price_lists.ubl import read_ubl
from tests.integrations.price_lists.ubl_documents import an_allowance, an_invoice, an_invoice_line, an_item


def the_row(line: str) -> PriceRow:
    (row,) = read_ubl(an_invoice(line)).rows
    return row


def test_an_invoice_is_dated_by_its_delivery() -> None:
    said = read_ubl(an_invoice(an_invoice_line()))
    assert said.format is FileFormat.INVOICE
    assert (said.reference, said.supplier_name, said.currency) == ("2026-1107", "Fenmoor Meats", "EUR")
    assert (said.issued_on, said.starts, said.ends) == (date(2026, 11, 30), date(2026, 11, 28), None)
    assert (said.complete, said.is_invoice) == (False, True)


def test_without_a_delivery_the_date_of_issue_holds() -> None:
    assert read_ubl(an_invoice(an_invoice_line(), delivered="")).starts == date(2026, 11, 30)


def test_a_line_by_weight_is_its_net_price_and_what_the_scale_said() -> None:
    row = the_row(an_invoice_line(item=an_item(gtin="4006381333931")))
    assert (row.place, row.item, row.gtin, row.name) == ("line 1", "10-2345", "4006381333931", "Beef topside")
    assert (row.amount, row.amount_text, row.per_quantity, row.per_unit) == (Decimal("14.20"), "14.20", 1, "kg")
    assert (row.billed_quantity, row.line_total, row.currency) == (Decimal("12.340"), Decimal("175.23"), "EUR")
    assert (row.starts, row.faults) == (None, ())


@pytest.mark.parametrize(("base_unit", "unit"), [("KGM", "KGM"), ("", "KGM"), ("EA", "C62"), ("H87", "EA")])
def test_a_price_is_for_its_base_quantity(base_unit: str, unit: str) -> None:
    """BT-149 and BT-150: 200.00 for 2 is the price of the published example of allowances, 100.00 for one."""
    row = the_row(an_invoice_line("10", unit, "1000.00", "200.00", "2", base_unit))
    assert (row.amount, row.per_quantity, row.billed_quantity, row.faults) == (Decimal("200.00"), 2, 10, ())


def test_quantities_in_hundreds_of_grams_are_grams() -> None:
    row = the_row(an_invoice_line("30", "HGM", "42.60", "1.42"))
    assert (row.per_quantity, row.per_unit, row.billed_quantity) == (100, "g", 3000)


def test_what_a_line_is_charged_itself_is_in_its_price() -> None:
    """10 at 410.00, 1.00 charged and 101.00 allowed, is 4000.00 in the published example of allowances."""
    own = an_allowance("1.00", charge=True) + an_allowance("101.00")
    row = the_row(an_invoice_line("10", "C62", "4000.00", "410.00", allowances=own))
    assert (row.amount, row.per_quantity, row.billed_quantity) == (Decimal("4000.00"), 10, 10)
    assert (row.amount_text, row.line_total, row.faults) == ("410.00", Decimal("4000.00"), ())


def test_a_total_that_its_charges_do_not_explain_is_left_to_the_review() -> None:
    """Rule R120, within 0.02: then the net price stands, and does not multiply up to the total."""
    row = the_row(an_invoice_line("10", "C62", "3999.97", "410.00", allowances=an_allowance("100.00")))
    assert (row.amount, row.per_quantity, row.line_total) == (Decimal("410.00"), 1, Decimal("3999.97"))
    within = the_row(an_invoice_line("10", "C62", "3999.98", "410.00", allowances=an_allowance("100.00")))
    assert (within.amount, within.per_quantity) == (Decimal("3999.98"), 10)


def test_what_is_charged_for_the_document_stays_beside_the_lines() -> None:
    """BG-21 and BG-20: a charge of 25.00, an allowance of 200.00, before tax."""
    whole = an_allowance("25.00", charge=True, reason="Freight") + an_allowance("200.00", reason="")
    assert read_ubl(an_invoice(an_invoice_line(), allowances=whole)).charges == (
        DocumentCharge("Freight", Decimal("25.00")), DocumentCharge("allowance", Decimal("-200.00")))


def test_a_lines_own_period_begins_its_price() -> None:
    """BT-134."""
    assert the_row(an_invoice_line(starts="2026-12-01")).starts == date(2026, 12, 1)


@pytest.mark.parametrize(("line", "column", "sentence"), [
    (an_invoice_line("-3"), "cbc:InvoicedQuantity", "gives goods back"),
    (an_invoice_line("0"), "cbc:InvoicedQuantity", "or none"),
    (an_invoice_line(base="0"), "cac:Price/cbc:BaseQuantity", "R121"),
    (an_invoice_line(base="1", base_unit="XCS"), "cac:Price/cbc:BaseQuantity", "R130"),
    (an_invoice_line(price="-14.20"), "cac:Price/cbc:PriceAmount", "below zero"),
    (an_invoice_line(discount=an_allowance("40.00", base="450.00")), "cac:Price/cbc:PriceAmount", "R046"),
    (an_invoice_line(total="-1", allowances=an_allowance("177.23")), "cbc:LineExtensionAmount", "gives money back"),
    (an_invoice_line(total="a lot"), "cbc:LineExtensionAmount", "no number"),
])
def test_a_rule_that_is_broken_is_the_lines_own_fault(line: str, column: str, sentence: str) -> None:
    bad, good = read_ubl(an_invoice(line, an_invoice_line(number="2"))).rows
    assert [(fault.column, sentence in fault.detail) for fault in bad.faults] == [(column, True)]
    assert (good.amount, good.faults) == (Decimal("14.20"), ())


def test_a_gross_price_less_its_discount_is_the_net_price() -> None:
    """Rule R046 with the numbers of the published example of allowances: 450 less 40 is 410."""
    assert the_row(an_invoice_line(price="410", discount=an_allowance("40", base="450"))).faults == ()


@pytest.mark.parametrize("kind", ["81", "83", "381", "396", "532"])
def test_credit_notes_are_refused_by_their_code(kind: str) -> None:
    """UNCL1001, the codes that Peppol BIS Billing 3.0 lists for credit notes."""
    with pytest.raises(UnreadableFile, match="credit note") as refused:
        read_ubl(an_invoice(an_invoice_line(), kind=kind))
    assert refused.value.more["why"] == "credit-note"


def test_an_invoice_without_lines_is_refused() -> None:
    with pytest.raises(UnreadableFile, match="no lines"):
        read_ubl(an_invoice())
