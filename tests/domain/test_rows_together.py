"""Rows of one list beside each other: what cannot all become prices is asked about, whatever it is written in.

All figures here are invented.
"""

import time
from datetime import date
from decimal import Decimal

from service.domain.row_finding import Standing
from tests.builders import a_price, an_item
from tests.domain.test_price_review import a_ground, a_row, codes, reviewed

CHRISTMAS, NEW_YEAR, EASTER = date(2026, 12, 24), date(2027, 1, 1), date(2027, 3, 28)
TWO_ITEMS = (an_item(), an_item("10-2346"), a_price("14.20"))


def test_the_same_price_in_another_unit_is_the_same_row_twice() -> None:
    rows = reviewed(a_row("14.90"), a_row("1.49", per_unit="g", per_quantity=Decimal(100))).rows
    assert [codes(one) for one in rows] == [[], ["duplicate_row"]]
    assert rows[1].standing is Standing.BLOCKED


def test_a_step_of_another_item_is_no_step_of_this_one() -> None:
    in_fives = a_row("15.10", item="10-2346", at_least=Decimal(5))
    rows = reviewed(a_row("14.90"), in_fives, ground=a_ground(*TWO_ITEMS)).rows
    assert [codes(one) for one in rows] == [["two_prices_for_ingredient"]] * 2


def test_a_price_in_bulk_never_hides_the_one_for_the_smallest_quantity_for_the_days_it_is_dated() -> None:
    rows = reviewed(a_row("14.90"), a_row("12.50", at_least=Decimal(50), ends=EASTER)).rows
    assert [codes(one) for one in rows] == [[], ["quantity_break"]]


def test_a_step_on_days_of_its_own_is_the_price_of_those_days() -> None:
    rows = reviewed(a_row("14.90", ends=CHRISTMAS), a_row("14.50", starts=NEW_YEAR, at_least=Decimal(5)),
                    a_row("14.00", starts=NEW_YEAR, at_least=Decimal(50))).rows
    assert [codes(one) for one in rows] == [[], [], ["quantity_break"]]


def test_one_item_dated_twice_is_no_question() -> None:
    rows = reviewed(a_row("14.90"), a_row("13.90", ends=CHRISTMAS), a_row("15.20", starts=NEW_YEAR)).rows
    assert {one.standing for one in rows} == {Standing.CLEAN}


def test_two_items_whose_days_meet_in_part_ask_which_one_counts() -> None:
    ground = a_ground(*TWO_ITEMS)
    rows = reviewed(a_row("14.90", ends=EASTER), a_row("15.10", item="10-2346"), ground=ground).rows
    assert [codes(one) for one in rows] == [["two_prices_for_ingredient"]] * 2
    later = a_row("15.10", item="10-2346", starts=NEW_YEAR)
    apart = reviewed(a_row("14.90", ends=CHRISTMAS), later, ground=ground).rows
    assert [codes(one) for one in apart] == [[], []]
    alike = reviewed(a_row("14.90", ends=EASTER), a_row("14.90", item="10-2346"), ground=ground).rows
    assert [codes(one) for one in alike] == [[], []]


def test_a_row_is_asked_about_once_however_many_it_meets() -> None:
    ground = a_ground(*(an_item(f"10-{number}") for number in range(40)), a_price("14.20"))
    rows = reviewed(*(a_row(f"14.{number + 30}", item=f"10-{number}", starts=date(2027, 1, 1 + number % 28))
                      for number in range(40)), ground=ground).rows
    assert {tuple(codes(one)) for one in rows} == {("two_prices_for_ingredient",)}


def test_a_file_that_prices_one_item_a_hundred_thousand_times_is_reviewed_in_seconds() -> None:
    """Each row's sentence names a few of its rivals: naming all of them would be ten thousand million names."""
    rows = [a_row()._replace(number=number, place=f"line {number}", amount=Decimal(1_400_000 + number) / 100_000)
            for number in range(100_000)]
    begun = time.process_time()
    found = reviewed(*rows).rows
    assert time.process_time() - begun < 30
    assert found[0].findings[-1].detail.endswith("line 6, line 7 and 99994 more: say which holds.")
