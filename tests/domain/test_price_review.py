"""Every row of a list is held against the kitchen, and says what is odd about it. All figures here are invented."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.price import Price
from service.domain.price_list import DocumentCharge, FileFormat, PriceList, PriceRow, RowFault
from service.domain.price_review import Review, missing_items, review
from service.domain.review_ground import Ground
from service.domain.reviewed_row import ReviewedRow
from service.domain.row_finding import Standing
from service.domain.supplier import Supplier
from service.domain.supplier_item import item_key
from tests.builders import a_conversion, a_pack, a_price, a_primal, an_ingredient, an_item, some_settings

TODAY = date(2026, 11, 25)
START = date(2026, 12, 1)


def a_ground(*records: Any, settings: Any = None, today: date = TODAY, retired: date | None = None,
             who: str = "fenmoor", preferred: tuple[tuple[date, str], ...] = ()) -> Ground:
    """Fenmoor's items and prices, and what they are of; a topside at 14.20 a kg unless prices are given.

    `retired` is when `who` is; `preferred` is whom the topside prefers, from which days.
    """
    ingredients, items, prices = {"beef-topside": a_primal()}, {}, {}
    for record in records or (an_item(), a_price("14.20")):
        if hasattr(record, "base_unit"):
            ingredients[record.code] = record
        elif isinstance(record, Price):
            prices.setdefault(record.ingredient, []).append(record)
        else:
            items[item_key(record.supplier, record.code)] = record
    suppliers = {code: (Version(Supplier(code, code), Mark(1, 4)),) for code in ("fenmoor", "harrow")}
    if retired is not None:
        suppliers[who] = (*suppliers[who], Version(Supplier(who, who), Mark(1, 5), retired, retired=True))
    topside = tuple(Version(a_primal(preferred_supplier=supplier), Mark(1, number), day)
                    for number, (day, supplier) in enumerate(preferred, 6))
    kitchen = Kitchen(**{name: getattr(EMPTY, name) for name in EMPTY.__slots__} | {
        "settings": (Version(settings or some_settings(), Mark(1, 1)),), "suppliers": suppliers,
        "ingredients": {code: (Version(one, Mark(1, 2)), *(topside if code == "beef-topside" else ()))
                        for code, one in ingredients.items()},
        "supplier_items": {code: (Version(one, Mark(1, 3)),) for code, one in items.items()},
        "prices": {code: tuple(several) for code, several in prices.items()}})
    return Ground(kitchen, "fenmoor", START, today)


def a_row(amount: str | None = "14.90", **facts: Any) -> PriceRow:
    """A row for the topside, priced by the kg."""
    return PriceRow(**{"number": 1, "place": "line 2", "item": "10-2345", "name": "Topside PAD", "per_unit": "kg",
                       "amount": amount if amount is None else Decimal(amount), **facts})


def a_list(**facts: Any) -> PriceList:
    return PriceList(**{"format": FileFormat.CSV, "rows": (), "currency": "", **facts})


def reviewed(*rows: PriceRow, ground: Ground | None = None, said: PriceList | None = None, spread: bool = False
             ) -> Review:
    numbered = [row._replace(number=number, place=f"line {number + 1}") for number, row in enumerate(rows, 1)]
    return review(said or a_list(), numbered, START, spread, ground or a_ground())


def the_row(row: PriceRow, **how: Any) -> ReviewedRow:
    return reviewed(row, **how).rows[0]


def codes(one: ReviewedRow) -> list[str]:
    return [finding.code for finding in one.findings]


def test_a_row_like_the_others_is_clean_and_says_what_it_would_record() -> None:
    one = the_row(a_row("14.90"))
    assert one.standing is Standing.CLEAN
    assert one.price is not None
    assert (one.price.ingredient, one.price.amount, one.price.pack_quantity, one.price.pack_unit) == (
        "beef-topside", Decimal("14.90"), 1, "kg")
    assert one.price.starts == START


def test_a_price_by_the_pack_is_for_all_that_the_pack_holds() -> None:
    one = the_row(a_row("149.00", per_unit="pack"))
    assert one.price is not None
    assert (one.price.pack_quantity, one.price.pack_unit) == (10, "kg")
    assert one.standing is Standing.CLEAN


def test_where_the_row_is_silent_the_mapping_says_what_it_is_priced_by() -> None:
    by_the_kilo = a_ground(an_item(priced_per="kg"), a_price("14.20"))
    assert the_row(a_row("14.90", per_unit=None), ground=by_the_kilo).standing is Standing.CLEAN
    by_the_case = the_row(a_row("149.00", per_unit=None))
    assert by_the_case.price is not None
    assert by_the_case.price.pack_quantity == 10


@pytest.mark.parametrize(("row", "code"), [
    (a_row(None, faults=(RowFault("Price", "'on request' is no price."),)), "unreadable_row"),
    (a_row(None), "unreadable_row"),
    (a_row(item="99-9999"), "unknown_item"),
    (a_row(per_unit=None, per_unit_text="Gebinde?"), "unknown_unit"),
    (a_row(currency="USD"), "other_currency"),
    (a_row(per_unit="l"), "missing_conversion"),
    (a_row(ended=True), "line_ended"),
    (a_row(ends=date(2026, 11, 30)), "price_over"),
])
def test_what_cannot_become_a_price_is_blocked_and_says_why(row: PriceRow, code: str) -> None:
    one = the_row(row)
    assert codes(one) == [code]
    assert one.standing is Standing.BLOCKED
    assert one.findings[0].detail.endswith(".")


def test_an_ingredient_that_is_retired_blocks_its_rows() -> None:
    ground = a_ground(an_item(ingredient="beef-shin"), a_price("14.20"))
    assert codes(the_row(a_row(), ground=ground)) == ["retired_ingredient"]


def test_a_fault_in_one_row_hides_no_other() -> None:
    rows = reviewed(a_row(None), a_row("14.90"), a_row(item="?")).rows
    assert [one.standing for one in rows] == [Standing.BLOCKED, Standing.CLEAN, Standing.BLOCKED]


def test_a_price_that_is_in_force_has_nothing_to_record() -> None:
    one = the_row(a_row("14.20"))
    assert codes(one) == ["price_unchanged"]
    assert one.standing is Standing.UNCHANGED


def test_the_same_price_written_by_the_case_is_in_force_too() -> None:
    assert codes(the_row(a_row("142.00", per_unit="pack"))) == ["price_unchanged"]
    in_pounds = a_ground(an_item(), a_price("0.45359237", pack_unit="lb"))
    assert codes(the_row(a_row("1.00"), ground=in_pounds)) == ["price_unchanged"]


def test_a_promotion_at_the_open_price_is_still_to_be_recorded() -> None:
    assert codes(the_row(a_row("14.20", ends=date(2026, 12, 31)))) == []


def test_a_list_price_under_a_contract_says_that_the_contract_holds() -> None:
    contract = a_ground(an_item(), a_price("14.20", effective_to=date(2027, 3, 31)))
    assert codes(the_row(a_row("14.90"), ground=contract)) == ["contract_holds"]


@pytest.mark.parametrize(("amount", "odd"), [("17.75", False), ("17.76", True), ("10.65", False), ("10.64", True)])
def test_more_than_a_quarter_from_the_price_in_force_asks_and_a_quarter_does_not(amount: str, odd: bool) -> None:
    assert ("outside_history" in codes(the_row(a_row(amount)))) is odd


def test_the_limit_is_the_kitchens() -> None:
    strict = a_ground(an_item(), a_price("14.20"), settings=some_settings(price_change_limit_percent=Decimal(5)))
    assert codes(the_row(a_row("14.92"), ground=strict)) == ["outside_history"]
    assert the_row(a_row("14.91"), ground=strict).standing is Standing.CLEAN
    assert the_row(a_row("14.92"), ground=strict).standing is Standing.QUESTIONED


def test_a_price_far_from_a_steady_year_asks_though_it_is_within_the_quarter() -> None:
    steady = [a_price(amount, effective_from=date(2026, month, 1), made=Mark(month, 1))
              for month, amount in enumerate(("14.00", "14.05", "14.10", "14.15", "14.20"), start=5)]
    ground = a_ground(an_item(), *steady)
    # median 14.10, median absolute deviation 0.05: 3 of them reach to 14.25
    assert codes(the_row(a_row("14.25"), ground=ground)) == []
    assert codes(the_row(a_row("14.26"), ground=ground)) == ["outside_history"]


@pytest.mark.parametrize(("row", "word"), [
    (a_row("1.42"), "times 10 "),
    (a_row("1420"), "divided by 100 "),
    (a_row("113.60"), "pack"),
    (a_row("1.42", per_unit="pack"), "times 100 "),
    (a_row("14.20", per_unit="pack"), "price of one unit"),
    (a_row("14250", other_amount=Decimal("14.250")), "decimal mark"),
])
def test_a_likely_slip_is_named(row: PriceRow, word: str) -> None:
    one = the_row(row, ground=a_ground(an_item(pack=a_pack("4")), a_price("14.20")))
    assert "likely_slip" in codes(one)
    assert word in next(finding.detail for finding in one.findings if finding.code == "likely_slip")


def test_a_pack_that_no_decimal_says_is_told_in_a_short_sentence() -> None:
    egg = an_ingredient("egg", conversions=(a_conversion("each", "1", "kg", quantity="3"),))
    ground = a_ground(an_item(ingredient="egg", pack=a_pack("1", "each", count="1")), egg, a_price(ingredient="egg"))
    details = [finding.detail for finding in the_row(a_row("4.7333"), ground=ground).findings]
    assert "as the price of a pack of 0.333333," in details[-1]


def test_a_steep_rise_that_no_slip_explains_is_no_slip() -> None:
    assert codes(the_row(a_row("21.00"))) == ["outside_history"]


def test_a_first_price_is_told_and_stays_clean() -> None:
    one = the_row(a_row(), ground=a_ground(an_item()))
    assert codes(one) == ["first_price"]
    assert one.standing is Standing.CLEAN


def test_a_first_price_of_a_supplier_is_held_against_the_one_that_decides() -> None:
    ground = a_ground(an_item(), a_price("14.20", supplier="harrow"), a_primal(preferred_supplier="harrow"))
    assert "likely_slip" in codes(the_row(a_row("142"), ground=ground))
    assert the_row(a_row("14.20"), ground=ground).standing is Standing.CLEAN


def test_another_pack_than_the_mappings_asks_and_is_what_is_priced() -> None:
    one = the_row(a_row("119.20", per_unit="pack", pack=a_pack("4")))
    assert codes(one) == ["pack_differs"]
    assert one.price is not None
    assert one.price.pack_quantity == 8
    assert codes(the_row(a_row("149.00", per_unit="pack", pack=a_pack("5000", "g")))) == []


def test_a_start_in_the_past_asks_where_the_suppliers_price_decides() -> None:
    late = a_ground(an_item(), a_price("14.20"), today=date(2026, 12, 5))
    assert codes(the_row(a_row("14.90"), ground=late)) == ["start_in_past"]
    elsewhere = a_ground(an_item(), a_price("14.20"), a_primal(preferred_supplier="harrow"), today=date(2026, 12, 5))
    assert codes(the_row(a_row("14.90"), ground=elsewhere)) == []


def test_a_closed_period_blocks() -> None:
    closed = a_ground(an_item(), a_price("14.20"), settings=some_settings(closed_through=START))
    assert codes(the_row(a_row("14.90"), ground=closed)) == ["closed_period"]
    open_again = a_ground(an_item(), a_price("14.20"), settings=some_settings(closed_through=date(2026, 11, 30)))
    assert codes(the_row(a_row("14.90"), ground=open_again)) == []


def test_the_same_row_twice_counts_once_and_two_prices_of_an_item_ask() -> None:
    same = reviewed(a_row("14.90"), a_row("14.90")).rows
    assert [codes(one) for one in same] == [[], ["duplicate_row"]]
    assert [one.standing for one in same] == [Standing.CLEAN, Standing.BLOCKED]
    differ = reviewed(a_row("14.90"), a_row("15.10")).rows
    assert [codes(one) for one in differ] == [["duplicate_row"], ["duplicate_row"]]
    assert {one.standing for one in differ} == {Standing.QUESTIONED}


def test_two_items_of_one_ingredient_at_two_prices_ask_which_one_counts() -> None:
    ground = a_ground(an_item(), an_item("10-2346"), a_price("14.20"))
    rows = reviewed(a_row("14.90"), a_row("15.10", item="10-2346"), ground=ground).rows
    assert [codes(one) for one in rows] == [["two_prices_for_ingredient"]] * 2


def test_the_price_for_the_smallest_quantity_is_taken() -> None:
    rows = reviewed(a_row("14.90"), a_row("14.50", at_least=Decimal(100))).rows
    assert [codes(one) for one in rows] == [[], ["quantity_break"]]


def test_items_are_found_by_gtin_and_by_name() -> None:
    ground = a_ground(an_item(gtin="4006381333931"), a_price("14.20"))
    assert codes(the_row(a_row(item="NEW-1", gtin="04006381333931"), ground=ground)) == ["matched_by_gtin"]
    assert codes(the_row(a_row(item="", name="TOPSIDE pad"), ground=ground)) == []


def test_an_invoice_that_differs_from_the_price_agreed_for_its_day_asks() -> None:
    said = a_list(format=FileFormat.INVOICE, starts=START, complete=False)
    one = the_row(a_row("14.60", billed_quantity=Decimal(8), line_total=Decimal("116.80")), said=said)
    assert codes(one) == ["differs_from_agreed"]
    assert codes(the_row(a_row("14.20"), said=said)) == ["price_unchanged"]


def test_an_invoice_line_adds_up_within_two_cents() -> None:
    said = a_list(format=FileFormat.INVOICE, starts=START)
    off = a_row("14.20", billed_quantity=Decimal("8.600"), line_total=Decimal("122.15"))
    assert codes(the_row(off, said=said)) == ["line_total_differs", "price_unchanged"]
    assert codes(the_row(off._replace(line_total=Decimal("122.14")), said=said)) == ["price_unchanged"]


def test_what_an_invoice_charges_beside_its_lines_is_found_and_spread_by_weight_only_when_asked() -> None:
    said = a_list(format=FileFormat.INVOICE, starts=START, charges=(DocumentCharge("Freight", Decimal("12.00")),))
    ground = a_ground(an_item(), an_item("20-1", ingredient="shallot"), an_ingredient("shallot"), a_price("14.20"))
    rows = (a_row("14.20", billed_quantity=Decimal(5), line_total=Decimal("71.00")),
            a_row("2.00", item="20-1", billed_quantity=Decimal(15), line_total=Decimal("30.00")))
    plain = reviewed(*rows, ground=ground, said=said)
    assert [code for code, _ in plain.findings] == ["document_charges"]
    landed = reviewed(*rows, ground=ground, said=said, spread=True)
    assert [code for code, _ in landed.findings] == ["charges_spread"]
    # 12.00 over 5 kg and 15 kg is 3.00 and 9.00
    prices = [one.price for one in landed.rows]
    assert [(price.amount, price.pack_quantity) for price in prices if price is not None] == [
        (Decimal("74.00"), 5), (Decimal("39.00"), 15)]


def test_charges_stay_out_of_prices_when_a_line_has_no_weight() -> None:
    said = a_list(format=FileFormat.INVOICE, starts=START, charges=(DocumentCharge("Freight", Decimal("12.00")),))
    ground = a_ground(an_item(ingredient="stock"), an_ingredient("stock", base_unit="l"), a_price(ingredient="stock"))
    found = reviewed(a_row("14.20", per_unit="l", billed_quantity=Decimal(5)), ground=ground, said=said, spread=True)
    assert [code for code, _ in found.findings] == ["document_charges"]


def test_a_conversion_of_the_ingredients_own_is_used() -> None:
    eggs = an_ingredient("egg", conversions=(a_conversion("each", "0.05", "kg"),))
    ground = a_ground(an_item(ingredient="egg"), eggs, a_price("4.00", ingredient="egg"))
    assert codes(the_row(a_row("0.20", per_unit="each"), ground=ground)) == ["price_unchanged"]


def test_items_of_the_last_list_that_are_not_on_this_one_are_missing() -> None:
    before = [a_row(item="a"), a_row(item="b"), a_row(item="c", ended=True)]
    assert [row.item for row in missing_items(before, [a_row(item="b")])] == ["a"]


def test_a_gtin_that_is_another_items_asks() -> None:
    ground = a_ground(an_item(gtin="4006381333931"), an_item("10-2346", gtin="6291041500213"), a_price("14.20"))
    assert codes(the_row(a_row(gtin="4006381333931"), ground=ground)) == []
    assert codes(the_row(a_row(gtin="6291041500213"), ground=ground)) == ["gtin_differs"]
    assert codes(the_row(a_row(gtin="9521234000174"), ground=ground)) == ["gtin_differs"]


def test_a_price_that_takes_over_later_is_told() -> None:
    scheduled = a_price("15.00", effective_from=date(2027, 1, 4), made=Mark(2, 1))
    ground = a_ground(an_item(), a_price("14.20"), scheduled)
    one = the_row(a_row("14.90"), ground=ground)
    assert codes(one) == ["later_price_holds"]
    assert one.standing is Standing.CLEAN
    assert "2027-01-04" in one.findings[0].detail
    assert codes(the_row(a_row("14.90", ends=date(2026, 12, 31)), ground=ground)) == []
