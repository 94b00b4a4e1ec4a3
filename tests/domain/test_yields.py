"""Yields: declared, or the ratio of sums over the tests that count on a day."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from service.domain.breakdown import Breakdown, YieldsFrom
from service.domain.history import Mark
from service.domain.yield_test import WeighedOutput, YieldTest
from service.domain.yields import ratios_of_sums, weighed, yields_of
from tests.builders import NEW_YEAR, WITHDRAWN, a_breakdown, a_loss, a_main, a_yield_test

LATER = date(2026, 6, 1)


def seamed(yields_from: YieldsFrom = YieldsFrom.TESTS) -> Breakdown:
    outputs = a_main("cap", "0.10"), a_main("round", "0.75"), a_loss("silverskin", "0.05")
    return a_breakdown(*outputs, yields_from=yields_from)


LIGHT = a_yield_test("2", {"cap": "0.2", "round": "1.4", "silverskin": "0.1"}, made=Mark(3, 1))
HEAVY = a_yield_test("10", {"cap": "1.3", "round": "7.9", "silverskin": "0.6"}, made=Mark(4, 1),
                     tested_on=NEW_YEAR + timedelta(30))
OTHER_LIST = a_yield_test("5", {"cap": "0.9", "round": "3.9"}, made=Mark(2, 1))


def test_a_yield_is_the_ratio_of_sums_so_that_a_heavy_piece_weighs_more() -> None:
    yields = yields_of(seamed(), [LIGHT, HEAVY], LATER)
    assert yields.basis == "tests"
    assert yields.fractions == {"cap": Fraction(15, 120), "round": Fraction(93, 120), "silverskin": Fraction(7, 120)}
    assert yields.unaccounted == Fraction(5, 120)


def test_a_test_counts_from_the_day_it_was_made() -> None:
    before, on_the_day = (yields_of(seamed(), [HEAVY, LIGHT], HEAVY.tested_on - timedelta(days)) for days in (1, 0))
    assert before.counting == (LIGHT,)
    assert on_the_day.counting == (LIGHT, HEAVY)


def test_tests_stand_in_the_order_they_were_made_and_not_recorded() -> None:
    told_late = a_yield_test("2", {"cap": "0.2", "round": "1.4", "silverskin": "0.1"}, made=Mark(99, 1))
    assert yields_of(seamed(), [HEAVY, told_late], LATER).counting == (told_late, HEAVY)


def test_with_no_test_that_counts_the_declared_yields_stand_and_are_said_to() -> None:
    aside = a_yield_test("2", {"cap": "0.2", "round": "1.4", "silverskin": "0.1"}, set_aside=WITHDRAWN)
    yields = yields_of(seamed(), [aside, HEAVY], NEW_YEAR)
    assert yields.basis == "declared"
    assert yields.fractions == {"cap": Fraction("0.1"), "round": Fraction("0.75"), "silverskin": Fraction("0.05")}
    assert (yields.unaccounted, yields.counting, yields.set_aside_by_itself) == (Fraction("0.1"), (), ())


def test_a_test_of_another_list_of_outputs_is_set_aside_by_itself_and_shown() -> None:
    yields = yields_of(seamed(), [OTHER_LIST, LIGHT], LATER)
    assert yields.set_aside_by_itself == (OTHER_LIST,)
    assert yields.counting == (LIGHT,)
    assert yields.fractions["cap"] == Fraction(1, 10)


def test_a_kitchen_may_stand_by_its_declared_yields_and_still_see_its_tests() -> None:
    yields = yields_of(seamed(YieldsFrom.DECLARED), [LIGHT, HEAVY], LATER)
    assert yields.basis == "declared"
    assert yields.fractions["round"] == Fraction("0.75")
    assert yields.counting == (LIGHT, HEAVY)


def test_outputs_within_the_scales_tolerance_leave_a_negative_loss() -> None:
    yields = yields_of(seamed(), [a_yield_test("2", {"cap": "0.3", "round": "1.6", "silverskin": "0.105"})], LATER)
    assert yields.unaccounted == Fraction("-0.0025")


def test_tests_in_pounds_and_in_kilograms_add_up() -> None:
    pounds = a_yield_test("20", {"cap": "2", "round": "15", "silverskin": "1"}, unit="lb", opened_weight="19")
    pound = Fraction("0.45359237")
    in_kilograms = weighed(pounds)
    assert (in_kilograms.test, in_kilograms.paid_for, in_kilograms.opened) == (pounds, 20 * pound, 19 * pound)
    assert in_kilograms.outputs == {"cap": 2 * pound, "round": 15 * pound, "silverskin": pound}
    assert weighed(LIGHT).opened is None, "not weighed again after draining"
    ratios = ratios_of_sums([pounds, LIGHT], ["cap"])
    assert ratios == {"cap": (2 * pound + Fraction("0.2")) / (20 * pound + 2)}


@given(st.lists(st.tuples(st.integers(1, 9999), st.integers(0, 9999)), min_size=1, max_size=8), st.randoms())
def test_the_order_of_recording_changes_no_yield(weights: list[tuple[int, int]], shuffler) -> None:
    tests = [a_yield_test(f"{gone_in + 9999}", {"cap": f"{out}", "round": "0", "silverskin": "0"}, made=Mark(n, 1))
             for n, (gone_in, out) in enumerate(weights, 1)]
    shuffled = list(tests)
    shuffler.shuffle(shuffled)
    yields = yields_of(seamed(), shuffled, LATER)
    assert yields == yields_of(seamed(), tests, LATER)
    assert yields.unaccounted == 1 - sum(yields.fractions.values())


def caps(*cut_on: tuple[int, int]) -> list[YieldTest]:
    """Caps of 10 kg that gave 1 kg, 2 kg, ... of steak, on these days of the year, recorded in these revisions."""
    return [a_yield_test("10", {"cap": str(steak)}, tested_on=NEW_YEAR + timedelta(day), made=Mark(revision, 1))
            for steak, (day, revision) in enumerate(cut_on, 1)]


def choosing(**choice: Any) -> Breakdown:
    return a_breakdown(a_main("cap", "0.5"), yields_from=YieldsFrom.TESTS, **choice)


def test_the_last_tests_count_by_their_day_and_then_by_what_was_recorded_later() -> None:
    first, told_late, twin, newest = caps((0, 1), (5, 9), (5, 8), (7, 2))
    yields = yields_of(choosing(yields_from_last_tests=2), [first, newest, twin, told_late], LATER)
    assert yields.counting == (told_late, newest)
    assert yields.not_chosen == (first, twin)
    assert yields.fractions["cap"] == Fraction(2 + 4, 20)


def test_tests_count_from_the_day_since_which_they_are_chosen() -> None:
    before, on_the_day, after = caps((0, 1), (5, 2), (7, 3))
    since = NEW_YEAR + timedelta(5)
    yields = yields_of(choosing(yields_from_tests_since=since), [after, on_the_day, before], LATER)
    assert (yields.counting, yields.not_chosen) == ((on_the_day, after), (before,))


def test_of_the_last_tests_none_is_one_that_is_set_aside_of_another_list_or_still_to_come() -> None:
    stands, aside, other, to_come = caps((0, 1), (1, 2), (2, 3), (400, 4))
    aside = replace(aside, set_aside=WITHDRAWN)
    other = replace(other, outputs=(*other.outputs, WeighedOutput("bone", Decimal(1))))
    yields = yields_of(choosing(yields_from_last_tests=1), [stands, aside, other, to_come], LATER)
    assert (yields.counting, yields.set_aside_by_itself, yields.not_chosen) == ((stands,), (other,), ())


def test_where_no_test_is_chosen_the_declared_yields_stand() -> None:
    yields = yields_of(choosing(yields_from_tests_since=LATER), caps((0, 1)), LATER)
    assert (yields.basis, yields.fractions, yields.counting) == ("declared", {"cap": Fraction(1, 2)}, ())
    assert len(yields.not_chosen) == 1


def test_more_tests_than_there_are_means_all_of_them() -> None:
    tests = caps((0, 1), (1, 2))
    assert yields_of(choosing(yields_from_last_tests=3), tests, LATER) == yields_of(choosing(), tests, LATER)
