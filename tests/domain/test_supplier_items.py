"""A supplier's items: by the supplier's codes as they stand on a day, by GTIN however long it was printed."""

from dataclasses import replace
from datetime import date

import pytest

from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.supplier_item import LONGEST_CODE, SupplierItem, item_code_fault, item_key
from service.domain.supplier_items import by_gtin, items_of
from tests.builders import a_pack, an_item

MARCH, APRIL = date(2026, 3, 2), date(2026, 4, 1)


def a_kitchen_with(*kept: tuple[SupplierItem, date | None, bool]) -> Kitchen:
    kitchen = EMPTY
    for revision, (item, start, retired) in enumerate(kept, start=1):
        kitchen = kitchen.with_version("supplier_item", item_key(item.supplier, item.code),
                                       Version(item, Mark(revision, 1), start, retired))
    return kitchen


def test_items_are_those_of_the_supplier_alone_by_its_own_codes() -> None:
    """Also where another supplier's code begins alike, and where a code holds slashes."""
    kitchen = a_kitchen_with(*((one, None, False) for one in (
        an_item("10/2"), an_item("10"), an_item("10", supplier="fenmoor-fish"), an_item("10", supplier="fen"))))
    assert set(items_of(kitchen, "fenmoor", MARCH)) == {"10/2", "10"}
    assert set(items_of(kitchen, "fenmoor-fish", MARCH)) == {"10"}
    assert items_of(kitchen, "holt", MARCH) == {}


def test_the_pack_is_that_of_the_day_and_the_name_as_recorded_last() -> None:
    larger = an_item(pack=a_pack("6"), name="Topside, larger", gtin="6291041500213")
    kitchen = a_kitchen_with((an_item(), None, False), (larger, APRIL, False))
    march, april = (items_of(kitchen, "fenmoor", day)["10-2345"] for day in (MARCH, APRIL))
    assert (march.pack, april.pack) == (a_pack("5"), a_pack("6"))
    assert march == replace(larger, pack=a_pack("5"))


def test_a_retired_item_is_not_there_from_its_day_on() -> None:
    kitchen = a_kitchen_with((an_item(), None, False), (an_item(), APRIL, True))
    assert [set(items_of(kitchen, "fenmoor", day)) for day in (MARCH, APRIL)] == [{"10-2345"}, set()]


def test_an_item_is_found_by_its_gtin_with_or_without_zeros_in_front() -> None:
    """12 digits, and the same number printed with 13."""
    short, long = an_item("1", gtin="614141000036"), an_item("2", gtin="6291041500213")
    found = by_gtin({item.code: item for item in (short, long, an_item("3"))})
    assert {gtin: item.code for gtin, item in found.items()} == {"00614141000036": "1", "06291041500213": "2"}


def test_a_pack_holds_its_count_times_its_quantity() -> None:
    assert str(a_pack("2.5", count="4").holds) == "10.0"


@pytest.mark.parametrize("code", ["10-2345", "AB 12", "1", "10/2", "a.b_c+d", "Nr. 7", "H\u00e4hnchen",
                                  "\u725b\u8089 1", "x" * LONGEST_CODE, "a#b?c%d&e", "...", "a/..b", "=1+1"])
def test_a_supplier_s_code_is_kept_as_the_supplier_writes_it(code: str) -> None:
    assert item_code_fault(code) is None


@pytest.mark.parametrize("code", ["", "x" * (LONGEST_CODE + 1), " 10", "10 ", "10\t2", "10\n", "10\x00", "10\u200b2",
                                  "10\u00a02", "10\u202e2", "10\ufffd", "\ud800", ".", "..", "10/../2", "./10", "10/."])
def test_what_cannot_be_seen_or_asked_for_is_no_code(code: str) -> None:
    assert item_code_fault(code) is not None
