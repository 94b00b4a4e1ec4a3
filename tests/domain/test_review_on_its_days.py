"""A price is judged on the days it holds: who is retired, who is preferred then, what a contract holds back.

All figures here are invented.
"""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.price_list import DocumentCharge, FileFormat, PriceRow
from service.domain.price_review import missing_items
from service.domain.reviewed_row import changed_by
from service.domain.row_finding import Standing
from tests.builders import a_price, a_primal, an_ingredient, an_item, some_settings
from tests.domain.test_price_review import START, a_ground, a_list, a_row, codes, reviewed, the_row

LATE = date(2026, 12, 20)
NEW_YEAR = date(2027, 1, 1)


@pytest.mark.parametrize("day", [START, NEW_YEAR])
def test_a_supplier_who_is_retired_on_that_day_or_later_gets_no_new_price(day: date) -> None:
    one = the_row(a_row("14.90"), ground=a_ground(retired=day))
    assert (codes(one)[-1], one.standing) == ("retired_supplier", Standing.BLOCKED)


def test_what_a_retired_supplier_offered_stands_in_nobodys_way() -> None:
    theirs, ours = a_price("14.20", supplier="harrow"), a_price("14.20")
    gone = a_ground(an_item(), theirs, ours, retired=date(2026, 10, 1), who="harrow", today=LATE)
    assert codes(the_row(a_row("14.90"), ground=gone)) == ["start_in_past"]
    new_here = a_ground(an_item(), theirs, retired=date(2026, 10, 1), who="harrow")
    assert codes(the_row(a_row("14.90"), ground=new_here)) == ["first_price"]


def test_a_second_offer_without_a_preferred_supplier_asks_since_costs_would_be_unknown() -> None:
    theirs = a_price("14.20", supplier="harrow")
    one = the_row(a_row("14.90"), ground=a_ground(an_item(), theirs))
    assert (codes(one), one.standing) == (["no_preferred_supplier"], Standing.QUESTIONED)
    assert "harrow" in one.findings[0].detail
    decided = a_ground(an_item(), theirs, a_primal(preferred_supplier="harrow"))
    assert codes(the_row(a_row("14.90"), ground=decided)) == []
    both_already = a_ground(an_item(), theirs, a_price("14.20"))
    assert codes(the_row(a_row("14.90"), ground=both_already)) == []


def test_a_past_start_asks_when_the_supplier_came_to_decide_since() -> None:
    prices = a_price("14.20", supplier="harrow"), a_price("14.20")
    to_us = a_ground(an_item(), *prices, today=LATE, preferred=((START, "harrow"), (date(2026, 12, 10), "fenmoor")))
    assert codes(the_row(a_row("14.90"), ground=to_us)) == ["start_in_past"]
    over_by_then = a_row("14.90", ends=date(2026, 12, 5))
    assert codes(the_row(over_by_then, ground=to_us)) == []
    never = a_ground(an_item(), *prices, today=LATE, preferred=((START, "harrow"), (NEW_YEAR, "fenmoor")))
    assert codes(the_row(a_row("14.90"), ground=never)) == []


def test_who_is_preferred_is_asked_for_the_rows_own_day() -> None:
    ground = a_ground(an_item(), a_price("14.20", supplier="harrow"), preferred=((NEW_YEAR, "harrow"),))
    assert codes(the_row(a_row("14.90"), ground=ground)) == ["no_preferred_supplier"]
    assert codes(the_row(a_row("14.90", starts=NEW_YEAR), ground=ground)) == []


def test_the_open_price_under_a_contract_is_told_so_at_the_contracts_price_too() -> None:
    contract = a_ground(an_item(), a_price("14.20", effective_to=date(2027, 3, 31)))
    assert codes(the_row(a_row("14.20"), ground=contract)) == ["contract_holds"]


@pytest.mark.parametrize(("days", "code"), [
    ({"starts": date(2999, 12, 31)}, "unreadable_row"), ({"starts": date(9999, 1, 1)}, "unreadable_row")])
def test_a_price_that_starts_outside_the_calendar_is_blocked(days: dict[str, date], code: str) -> None:
    one = the_row(a_row("14.90", **days))
    assert (codes(one), one.findings[0].detail[-1]) == ([code], ".")


def test_a_list_may_say_no_last_day_by_the_last_there_is() -> None:
    for last in (date(9999, 12, 31), date(2999, 12, 31)):
        one = the_row(a_row("14.90", ends=last))
        assert one.price is not None
        assert (one.price.ends, one.standing) == (None, Standing.CLEAN)


def test_a_day_asked_for_that_is_not_the_lists_own_is_told() -> None:
    told = reviewed(a_row("14.90"), said=a_list(starts=NEW_YEAR)).findings
    assert [code for code, _ in told] == ["start_differs"]
    assert reviewed(a_row("14.90"), said=a_list(starts=START)).findings == ()


def test_a_name_that_two_items_share_names_neither() -> None:
    ground = a_ground(an_item(name="Topside"), an_item("10-2346", name="TOPSIDE"), a_price("14.20"))
    assert codes(the_row(a_row(item="", name="Topside"), ground=ground)) == ["unknown_item"]
    assert codes(the_row(a_row(name="Topside"), ground=ground)) == []


def a_landed(*rows: PriceRow, charge: str = "12.00", **facts: object) -> list[object]:
    said = a_list(format=FileFormat.INVOICE, starts=START, charges=(DocumentCharge("Freight", Decimal(charge)),))
    ground = a_ground(an_item(), an_item("20-1", ingredient="shallot"), an_ingredient("shallot"), a_price("14.20"),
                      **facts)  # type: ignore[arg-type]
    return [reviewed(*rows, ground=ground, said=said, spread=True), ground]


def test_charges_that_are_spread_make_no_agreed_price_another() -> None:
    agreed = a_row("14.20", billed_quantity=Decimal(5), line_total=Decimal("71.00"))
    other = a_row("2.00", item="20-1", billed_quantity=Decimal(15), line_total=Decimal("30.00"))
    landed, ground = a_landed(agreed, other)
    one = landed.rows[0]  # type: ignore[attr-defined]
    assert codes(one) == []
    assert one.row == agreed._replace(number=1, place="line 2")
    # 71.00 and 3.00 of the freight for 5 kg
    assert changed_by(one, ground) == (Decimal("14.80"), Decimal("14.20"))  # type: ignore[arg-type]


def test_charges_that_are_spread_hide_no_other_price_and_no_wrong_total() -> None:
    dearer = a_row("14.60", billed_quantity=Decimal(5), line_total=Decimal("70.00"))
    one = a_landed(dearer, charge="5.00")[0].rows[0]  # type: ignore[attr-defined]
    # 5 kg at 14.60 is 73.00, and 70.00 and 5.00 for 5 kg is 15.00
    assert sorted(codes(one)) == ["differs_from_agreed", "line_total_differs"]
    undone = a_row("13.20", billed_quantity=Decimal(5), line_total=Decimal("66.00"))
    one = a_landed(undone, charge="5.00")[0].rows[0]  # type: ignore[attr-defined]
    assert sorted(codes(one)) == ["differs_from_agreed", "price_unchanged"]


def test_a_line_in_an_unknown_unit_has_no_weight() -> None:
    odd = a_row("14.20", per_unit=None, per_unit_text="ZZ9", billed_quantity=Decimal(5))
    assert [code for code, _ in a_landed(odd)[0].findings] == ["document_charges"]  # type: ignore[attr-defined]


def test_shares_are_in_the_currencys_smallest_unit() -> None:
    dinar = some_settings(currency="BHD")
    row = a_row("1.2345", billed_quantity=Decimal(1))
    one = a_landed(row, charge="0.001", settings=dinar)[0].rows[0]  # type: ignore[attr-defined]
    # 1.2345 is 1.235 to the thousandth, and a thousandth of freight
    assert one.price.amount == Decimal("1.236")


def test_an_item_is_not_missing_while_its_gtin_or_name_is_listed() -> None:
    before = [a_row(item="A", gtin="4006381333931"), a_row(item="B", name="Bones"), a_row(item="", name="Suet"),
              a_row(item="", gtin="96385074", name="")]
    now = [a_row(item="NEW", gtin="04006381333931", name=""), a_row(item="", name="BONES")]
    assert [row.name or row.gtin for row in missing_items(before, now)] == ["Suet", "96385074"]
    coded = [a_row(item="B2", name="Bones")]
    assert [row.item for row in missing_items([a_row(item="B", name="Bones")], coded)] == ["B"]
