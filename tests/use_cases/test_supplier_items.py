"""What a supplier's code stands for: what must be right in it, and that it moves no figure. On both engines.

The clock stands on 2 March 2026.
"""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.domain.errors import (
    Fault,
    MissingConversion,
    NotFound,
    PreconditionFailed,
    PreconditionRequired,
    Refused,
    RetiredReference,
    UnknownReference,
    UnknownUnit,
    WrongValue,
)
from service.domain.supplier import Supplier
from service.domain.supplier_item import SupplierItem, item_key
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.keep_record import Kept, keep_record
from service.use_cases.kept_kinds import ingredient_kind, supplier_item_kind, supplier_kind
from service.use_cases.ports import Asker
from service.use_cases.read_record import read_record
from service.use_cases.read_supplier_items import supplier_items
from service.use_cases.retire_record import retire_record
from tests.builders import a_conversion, a_pack, a_primal, an_ingredient, an_item

FINANCE = Asker("k1", "finance", "request")
ANY = Condition(any_tag=True)
MARCH, APRIL = date(2026, 3, 2), date(2026, 4, 1)
A_GTIN = "6291041500213"


@pytest.fixture
def buying(ledger: SqlLedger) -> SqlLedger:
    """Two suppliers; a topside in kg with what a piece weighs; an oil in litres, without conversions."""
    for code in ("fenmoor", "harrowick"):
        keep_record(ledger, supplier_kind, code, Supplier(code, code), None, Condition(), FINANCE)
    topside = a_primal(conversions=(a_conversion("each", "8.4", "kg"),))
    for ingredient in (topside, an_ingredient("oil", base_unit="l")):
        keep_record(ledger, ingredient_kind, ingredient.code, ingredient, None, Condition(), FINANCE)
    return ledger


def keep(ledger: SqlLedger, item: SupplierItem, start: date | None = None, condition: Condition = ANY) -> Kept:
    code = item_key(item.supplier, item.code)
    there = code in ledger.kitchen(ledger.head().revision).supplier_items
    return keep_record(ledger, supplier_item_kind, code, item, start,
                       condition if there or condition is not ANY else Condition(), FINANCE)


def faults_of(ledger: SqlLedger, item: SupplierItem, start: date | None = None) -> list[Fault]:
    """What is wrong with an item; nothing is written."""
    head = ledger.head()
    with pytest.raises(Refused) as refusal:
        keep(ledger, item, start)
    assert ledger.head() == head
    return list(refusal.value.faults)


def test_an_item_is_created_replaced_and_left_as_it_is(buying: SqlLedger) -> None:
    kept = keep(buying, an_item("10/2345", gtin=A_GTIN))
    assert (kept.outcome, kept.document) == ("created", {
        "supplier": "fenmoor", "code": "10/2345", "name": "Topside PAD", "ingredient": "beef-topside",
        "pack": {"name": "case", "count": "2", "quantity": "5", "unit": "kg"}, "priced_per": "pack", "gtin": A_GTIN,
        "revision": 5, "version_revision": 5, "in_force_from": None, "scheduled": []})
    stale = Condition(tags=frozenset("4"))
    assert keep(buying, an_item("10/2345", gtin=A_GTIN), condition=stale).outcome == "unchanged"
    larger = an_item("10/2345", pack=a_pack("6"))
    with pytest.raises(PreconditionRequired, match="supplier item 'fenmoor/10/2345'"):
        keep(buying, larger, condition=Condition())
    with pytest.raises(PreconditionFailed, match="Supplier item 'fenmoor/10/2345' has changed"):
        keep(buying, larger, condition=stale)
    replaced = keep(buying, larger, APRIL, Condition(tags=frozenset("5")))
    assert (replaced.outcome, replaced.document["in_force_from"]) == ("replaced", "2026-04-01")
    kitchen = buying.kitchen(6)
    packs = [read_record(kitchen, supplier_item_kind, "fenmoor/10/2345", day)["pack"]["quantity"]
             for day in (MARCH, APRIL)]
    assert packs == ["5", "6"]


def test_items_take_revisions_that_move_no_figure(buying: SqlLedger) -> None:
    figures = buying.head().figures_revision
    keep(buying, an_item())
    retire_record(buying, supplier_item_kind, "fenmoor/10-2345", None, ANY, FINANCE)
    head = buying.head()
    assert (head.revision, head.figures_revision) == (figures + 2, figures)
    with pytest.raises(NotFound, match="no supplier item 'fenmoor/10-2345' any more"):
        read_record(buying.kitchen(head.revision), supplier_item_kind, "fenmoor/10-2345", MARCH)
    known_before = read_record(buying.kitchen(figures + 1), supplier_item_kind, "fenmoor/10-2345", MARCH)
    assert known_before["name"] == "Topside PAD"


def test_everything_that_is_wrong_is_told_at_once_with_its_place(buying: SqlLedger) -> None:
    retire_record(buying, supplier_kind, "harrowick", None, ANY, FINANCE)
    wrong = an_item("10\n2", supplier="harrowick", ingredient="beef", pack=a_pack("0", "stone", count="-1"),
                    priced_per="cup", gtin="6291041500214")
    told = faults_of(buying, wrong)
    assert {(fault.pointer or fault.more["parameter"]): type(fault) for fault in told} == {
        "item": WrongValue, "code": RetiredReference, "#/ingredient": UnknownReference,
        "#/pack/unit": UnknownUnit, "#/priced_per": UnknownUnit, "#/pack/count": WrongValue,
        "#/pack/quantity": WrongValue, "#/gtin": WrongValue}
    assert len(told) == 8


def test_of_a_supplier_that_was_never_recorded_there_are_no_items(buying: SqlLedger) -> None:
    [fault] = faults_of(buying, an_item(supplier="holt"))
    assert isinstance(fault, NotFound)
    with pytest.raises(NotFound):
        supplier_items(buying.kitchen(4), "holt", None, MARCH, "", 10)


@pytest.mark.parametrize(("facts", "pointer"), [
    ({"pack": a_pack("5", "l")}, "#/pack/unit"), ({"priced_per": "l"}, "#/priced_per"),
    ({"ingredient": "oil"}, "#/pack/unit"), ({"ingredient": "oil", "pack": a_pack("5", "ml"), "priced_per": "lb"},
                                             "#/priced_per")])
def test_what_does_not_convert_into_the_ingredient_s_base_unit_is_refused(
    buying: SqlLedger, facts: dict[str, Any], pointer: str
) -> None:
    [fault] = faults_of(buying, an_item(**facts))
    assert (type(fault), fault.pointer) == (MissingConversion, pointer)


@pytest.mark.parametrize("facts", [
    {"pack": a_pack("4", "each")}, {"priced_per": "kg"}, {"priced_per": "each"}, {"priced_per": "lb"},
    {"ingredient": "oil", "pack": a_pack("5", "us_gallon"), "priced_per": "ml"}])
def test_what_converts_by_itself_or_by_the_ingredient_s_own_conversion_is_kept(
    buying: SqlLedger, facts: dict[str, Any]
) -> None:
    assert keep(buying, an_item(**facts)).outcome == "created"


@pytest.mark.parametrize(("count", "quantity", "taken"), [
    ("999999", "1000000", True), ("1000000", "1000000", False), ("0.001", "0.001", True), ("0.001", "0.0011", False),
    ("123456789.123456", "123456789.123456", False), ("999999999999.999999", "1", True)])
def test_what_a_pack_holds_fits_what_is_stored(buying: SqlLedger, count: str, quantity: str, taken: bool) -> None:
    """12 digits before the point, 6 after it; the product is taken exactly."""
    item = an_item(pack=a_pack(quantity, count=count))
    if taken:
        keep(buying, item)
        kept = buying.kitchen(5).supplier_items["fenmoor/10-2345"][0].record.pack
        assert kept.holds == Decimal(count) * Decimal(quantity)
    else:
        assert [fault.pointer for fault in faults_of(buying, item)] == ["#/pack"]


def test_one_supplier_has_one_item_under_a_gtin(buying: SqlLedger) -> None:
    """With or without zeros in front; of another supplier, or once the first is retired, it is another matter."""
    keep(buying, an_item("1", gtin=A_GTIN))
    [fault] = faults_of(buying, an_item("2", gtin="0" + A_GTIN))
    assert (fault.pointer, fault.more["item"]) == ("#/gtin", "1")
    keep(buying, an_item("2", supplier="harrowick", gtin=A_GTIN))
    keep(buying, an_item("1", gtin=A_GTIN, name="Topside, trimmed"))
    retire_record(buying, supplier_item_kind, "fenmoor/1", APRIL, ANY, FINANCE)
    assert [fault.pointer for fault in faults_of(buying, an_item("2", gtin=A_GTIN))] == ["#/gtin"]
    keep(buying, an_item("2", gtin=A_GTIN), APRIL)
    assert [fault.pointer for fault in faults_of(buying, an_item("1", gtin=A_GTIN), APRIL)] == ["#/gtin"]


def test_an_ingredient_that_items_name_may_be_retired_and_leaves_them(buying: SqlLedger) -> None:
    keep(buying, an_item())
    retire_record(buying, ingredient_kind, "beef-topside", None, ANY, FINANCE)
    kitchen = buying.kitchen(buying.head().revision)
    assert [item["code"] for item in supplier_items(kitchen, "fenmoor", None, MARCH, "", 10).data] == ["10-2345"]
    [fault] = faults_of(buying, an_item("11"))
    assert (type(fault), fault.pointer) == (RetiredReference, "#/ingredient")


def test_items_are_listed_by_the_supplier_s_codes_page_by_page_and_by_ingredient(buying: SqlLedger) -> None:
    for code in ("b", "10", "a/2", "9", "A"):
        keep(buying, an_item(code, ingredient="oil" if code == "9" else "beef-topside",
                             pack=a_pack("5", "l" if code == "9" else "kg")))
    keep(buying, an_item("11", supplier="harrowick"))
    retire_record(buying, supplier_item_kind, "fenmoor/A", None, ANY, FINANCE)
    kitchen = buying.kitchen(buying.head().revision)
    pages, after = [], ""
    while True:
        listed = supplier_items(kitchen, "fenmoor", None, MARCH, after, 2)
        pages.append([item["code"] for item in listed.data])
        if listed.next_after is None:
            break
        after = listed.next_after
    assert pages == [["10", "9"], ["a/2", "b"]]
    of_oil = supplier_items(kitchen, "fenmoor", "oil", MARCH, "", 10)
    assert [item["code"] for item in of_oil.data] == ["9"]
