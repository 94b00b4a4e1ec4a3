"""Finance: a supplier's UBL catalogue and invoice, and a list that comes too late. What each brings is found.

The documents are made by the published paths of Peppol BIS Catalogue 3 and Billing 3.0 (see ubl_documents.py).
"""

from datetime import date
from typing import Any

import pytest

from tests.integrations.price_lists.ubl_documents import (
    a_catalogue,
    a_line,
    a_price,
    an_allowance,
    an_invoice,
    an_invoice_line,
    an_item,
    period,
)
from tests.stories.running_service import MONDAY, Client, RunningService

PROPOSALS = "/v1/price-proposals"
TOPSIDE, SALMON, BONES = "10-2345", "30-0420", "10-9001"


@pytest.fixture(scope="module")
def finance(service: RunningService) -> Client:
    return service.client("read", "prices:write", "prices:approve", "admin")


def proposed(finance: Client, content: bytes, file_name: str, asked: str = "") -> dict[str, Any]:
    answer = finance.send_file(f"{PROPOSALS}?supplier=fenmoor&file_name={file_name}{asked}",
                               content.replace(b"EUR", b"GBP"), "application/xml")
    assert answer.status_code == 201, answer.text
    return answer.json()


def rows_of(finance: Client, proposal: dict[str, Any]) -> list[dict[str, Any]]:
    return finance.read(f"{PROPOSALS}/{proposal['id']}/rows")["data"]


def codes(row: dict[str, Any]) -> list[str]:
    return [finding["code"] for finding in row["findings"]]


def test_a_catalogue_brings_its_own_days_breaks_and_items_that_end(finance: Client) -> None:
    content = a_catalogue(
        a_line(a_price("1.46", base="100", unit="GRM"), number="1", orderable="KGM", item=an_item(TOPSIDE)),
        a_line(a_price("12.90", least="1"), a_price("12.50", least="50"), number="2", orderable="KGM",
               item=an_item(SALMON, "Salmon")),
        a_line(a_price("11.50"), number="3", action="Delete", orderable="KGM", item=an_item(BONES, "Bones")),
        valid=period("ValidityPeriod", "2026-12-01", "2027-03-31"))
    proposal = proposed(finance, content, "catalogue.xml")
    assert (proposal["format"], proposal["reference"], proposal["effective_from"]) == (
        "ubl_catalogue", "List 12 version 2", "2026-12-01")
    topside, salmon, in_bulk, bones = rows_of(finance, proposal)
    # 1.46 for 100 g is 14.60 a kg
    assert (topside["unit_price"], topside["effective_to"], topside["standing"]) == ("14.6000", "2027-03-31", "clean")
    assert salmon["standing"] == "clean"
    assert codes(in_bulk) == ["quantity_break"]
    assert codes(bones) == ["line_ended"]


def test_an_invoice_is_held_against_what_was_agreed_for_its_day(finance: Client) -> None:
    content = an_invoice(
        an_invoice_line("12.340", total="182.63", price="14.80", item=an_item(TOPSIDE)),
        an_invoice_line("9.200", total="108.00", price="11.80", number="2", item=an_item(SALMON, "Salmon")),
        allowances=an_allowance("18.00", charge=True, reason="Freight"))
    proposal = proposed(finance, content, "invoice.xml")
    assert (proposal["format"], proposal["effective_from"]) == ("ubl_invoice", "2026-11-28")
    assert [finding["code"] for finding in proposal["findings"]] == ["document_charges"]
    topside, salmon = rows_of(finance, proposal)
    assert codes(topside) == ["differs_from_agreed"]
    assert topside["standing"] == "questioned"
    # 9.2 kg at 11.80 is 108.56, and the line says 108.00
    assert codes(salmon) == ["line_total_differs", "price_unchanged"]


def test_charges_are_spread_by_weight_only_when_asked(finance: Client) -> None:
    content = an_invoice(
        an_invoice_line("10", total="148.00", price="14.80", item=an_item(TOPSIDE)),
        an_invoice_line("20", total="240.00", price="12.00", number="2", item=an_item(SALMON, "Salmon")),
        allowances=an_allowance("18.00", charge=True, reason="Freight"))
    proposal = proposed(finance, content, "landed.xml", "&spread_charges=true")
    assert [finding["code"] for finding in proposal["findings"]] == ["charges_spread"]
    # 18.00 over 10 kg and 20 kg is 6.00 and 12.00: 154.00 for 10 kg, 252.00 for 20 kg
    assert [row["unit_price"] for row in rows_of(finance, proposal)] == ["15.4000", "12.6000"]


def test_an_invoice_keeps_its_own_day_and_a_credit_note_is_no_price(finance: Client) -> None:
    invoice = an_invoice(an_invoice_line(total="175.23", item=an_item(TOPSIDE))).replace(b"EUR", b"GBP")
    address = f"{PROPOSALS}?supplier=fenmoor&file_name=x.xml"
    dated = finance.send_file(f"{address}&effective_from={MONDAY}", invoice)
    assert (dated.status_code, dated.json()["errors"][0]["parameter"]) == (422, "effective_from")
    credit = finance.send_file(address, an_invoice(an_invoice_line(), kind="381"))
    assert (credit.status_code, credit.json()["why"]) == (422, "credit-note")


def test_a_list_that_comes_too_late_asks_and_a_closed_period_stays_closed(finance: Client) -> None:
    late = f"Item code,Unit,Price\r\n{TOPSIDE},kg,14.70\r\n".encode()
    address = f"{PROPOSALS}?supplier=fenmoor&effective_from=2026-11-02&file_name=late.csv"
    proposal = finance.send_file(address, late).json()
    assert codes(rows_of(finance, proposal)[0]) == ["start_in_past"]
    settings = finance.read("/v1/settings")
    closed = finance.put("/v1/settings", settings | {"closed_through": "2026-11-15"},
                         if_match=f'"{settings["revision"]}"')
    assert closed.status_code == 200, closed.text
    body = {"overrides": [{"row": 1, "reason": "The supplier was late."}]}
    refused = finance.post(f"{PROPOSALS}/{proposal['id']}/acceptance", body)
    assert (refused.status_code, refused.json()["type"]) == (409, "/docs/problems/proposal-out-of-date")
    looked = finance.post(f"{PROPOSALS}/{proposal['id']}/look", {}).json()
    assert codes(rows_of(finance, looked)[0]) == ["closed_period"]
    refused = finance.post(f"{PROPOSALS}/{proposal['id']}/acceptance", body)
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "#/overrides/0/row")
    price = {"supplier": "fenmoor", "amount": "14.70", "pack_quantity": "1", "pack_unit": "kg",
             "effective_from": "2026-11-15"}
    by_hand = finance.post("/v1/ingredients/beef-topside/prices", price)
    assert (by_hand.status_code, by_hand.json()["type"]) == (422, "/docs/problems/period-closed")
    assert by_hand.json()["closed_through"] == "2026-11-15"


def test_a_template_filled_in_is_read_without_a_question(finance: Client) -> None:
    template = finance.get("/v1/suppliers/fenmoor/price-list-template?format=csv")
    assert template.headers["Content-Disposition"].startswith("attachment; filename=")
    lines = template.content.decode("utf-8-sig").splitlines()
    filled = [line + "15.10" if line.startswith(TOPSIDE) else line for line in lines]
    answer = finance.send_file(f"{PROPOSALS}?supplier=fenmoor&effective_from={date(2027, 1, 4)}&file_name=filled.csv",
                               "\r\n".join(filled).encode())
    assert answer.status_code == 201, answer.text
    topside = next(row for row in rows_of(finance, answer.json()) if row["item"] == TOPSIDE)
    assert (topside["unit_price"], topside["standing"]) == ("15.1000", "clean")
    workbook = finance.get("/v1/suppliers/fenmoor/price-list-template?format=xlsx")
    assert workbook.content.startswith(b"PK")
