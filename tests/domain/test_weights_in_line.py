"""Whether weights are in line before a test is recorded: ranges by hand, the limits of the chart where it has a say."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from service.domain.breakdown import Breakdown, YieldsFrom
from service.domain.history import Mark
from service.domain.weights_in_line import WeightsLooked, weights_looked
from service.domain.yield_statistics import statistics_of, statistics_of_unaccounted
from service.domain.yield_test import YieldTest
from service.domain.yields import yields_of
from tests.builders import NEW_YEAR, a_breakdown, a_loss, a_main, a_yield_test, some_trim

LATER = date(2026, 12, 1)
PLAN = a_breakdown(a_main("round", "0.70"), some_trim("dice", "0.18"), a_loss("skin", "0.08"),
                   yields_from=YieldsFrom.TESTS)


def a_test(cut: str = "70", trim: str = "18", skin: str = "8", number: int = 1, **facts: str) -> YieldTest:
    return a_yield_test("100", {"round": cut, "dice": trim, "skin": skin}, made=Mark(number, 1),
                        tested_on=NEW_YEAR + timedelta(number), **facts)


def looked(test: YieldTest, *before: YieldTest) -> WeightsLooked:
    return weights_looked(PLAN, test, yields_of(PLAN, before, LATER), Decimal("0.5"))


def out_of_line(seen: WeightsLooked) -> set[str]:
    return {cut for cut, one in seen.outputs.items() if not one.in_line}


EIGHT = [a_test(cut, trim, number=n) for n, (cut, trim) in enumerate((("69", "18"), ("71", "18.6")) * 4, 1)]


@pytest.mark.parametrize(("weights", "out"), [
    (("70", "18", "8"), set()),
    (("62", "20.8", "9.8"), set()), (("61.99", "18", "8"), {"round"}),
    (("70", "20.81", "6.2"), {"dice"}), (("70", "18", "6.19"), {"skin"}), (("70", "18", "9.81"), {"skin"})])
def test_without_tests_a_weight_may_be_off_the_declared_yield_by_a_tenth_and_a_point(
    weights: tuple[str, str, str], out: set[str]
) -> None:
    """70 +/- 8, 18 +/- 2.8, 8 +/- 1.8 of 100; the bound itself is in line."""
    seen = looked(a_test(*weights))
    assert out_of_line(seen) == out
    assert {one.expected.basis for one in seen.outputs.values()} == {"declared"}


def test_seven_tests_move_the_middle_and_eight_bring_the_limits_of_the_chart() -> None:
    seven, eight = looked(a_test(), *EIGHT[:7]), looked(a_test(), *EIGHT)
    ratio = statistics_of("round", EIGHT[:7])
    chart = statistics_of("round", EIGHT)
    assert ratio is not None
    assert chart is not None
    assert (seven.outputs["round"].expected.usual, seven.outputs["round"].expected.basis) == (ratio.ratio, "tests")
    expected = eight.outputs["round"].expected
    assert (expected.low, expected.high, expected.basis) == (
        chart.chart.lower_limit, chart.chart.upper_limit, "limits")
    assert out_of_line(looked(a_test("63.9"), *EIGHT[:7])) == set()
    assert out_of_line(looked(a_test("63.9"), *EIGHT)) == {"round"}


def test_the_limits_of_what_is_unaccounted_for_are_those_of_its_chart() -> None:
    statistics = statistics_of_unaccounted(EIGHT)
    assert statistics is not None
    expected = looked(a_test(), *EIGHT).unaccounted.expected
    assert (expected.low, expected.high) == (statistics.chart.lower_limit, statistics.chart.upper_limit)


@pytest.mark.parametrize(("cut", "in_line", "missing"), [
    ("70", True, False), ("64", True, False), ("63.99", False, False), ("61", False, False), ("60.99", False, True)])
def test_twice_the_usual_and_some_points_may_be_missing(cut: str, in_line: bool, missing: bool) -> None:
    """4 of 100 are declared to be in no output: up to 10 are in line, above 13 it has to be confirmed."""
    seen = looked(a_test(cut))
    assert (seen.unaccounted.in_line, seen.much_is_missing) == (in_line, missing)
    assert (seen.unaccounted.expected.high, seen.much) == (Fraction(10, 100), Fraction(13, 100))


def test_outputs_may_outweigh_the_input_as_far_as_the_scale_does() -> None:
    assert looked(a_test("74.5")).unaccounted.in_line
    assert not looked(a_test("74.51")).unaccounted.in_line


def test_what_drained_off_is_not_missing() -> None:
    dry, wet = looked(a_test("59")), looked(a_test("59", opened_weight="88"))
    assert (dry.missing, dry.much_is_missing) == (Fraction(15, 100), True)
    assert (wet.missing, wet.much_is_missing) == (Fraction(3, 100), False)
    assert wet.unaccounted.share == Fraction(15, 100)


def test_a_kitchen_whose_losses_vary_widely_is_not_asked_within_its_limits() -> None:
    wide = [a_test(cut, number=n) for n, cut in enumerate(("70", "58") * 4, 1)]
    seen = looked(a_test("45"), *wide)
    assert seen.much == seen.unaccounted.expected.high > Fraction(29, 100)
    assert not seen.much_is_missing


def test_more_is_not_missing_than_the_worse_of_tests_and_plan_say() -> None:
    """The tests say that nothing is lost, the plan that 4 of 100 are."""
    assert looked(a_test(), a_test("74"), a_test("74", number=2)).much == Fraction(13, 100)


@pytest.mark.parametrize(("weights", "seen"), [
    (("70", "15", "11"), True), (("70", "15", "8"), True), (("70", "15.5", "10.5"), False), (("73", "15", "8"), False)])
def test_less_trim_and_more_loss_than_expected_is_lean_in_the_bin(
    weights: tuple[str, str, str], seen: bool
) -> None:
    """Of 100: trim from 15.2, loss and what is unaccounted for (12) up to 14.2."""
    assert looked(a_test(*weights)).lean_in_the_bin is seen


def wetter(test: YieldTest, drained: str) -> YieldTest:
    """The same cutting of goods that lost so much of every 100 in the bag: all outputs weigh that much less."""
    dry = 1 - Decimal(drained) / 100
    return replace(test, opened_weight=100 * dry, outputs=tuple(
        replace(output, weight=output.weight * dry) for output in test.outputs))


@pytest.mark.parametrize("before", [[], EIGHT[:3], EIGHT, [wetter(test, "1") for test in EIGHT[:3]],
                                    [wetter(test, "1") for test in EIGHT]])
def test_what_drained_off_before_the_knife_is_nobody_s_lean(before: list[YieldTest]) -> None:
    """A fifth of the bag was water; each kg on the block gave what it always gives. Unweighed, nobody can tell."""
    wet = wetter(a_test(), "20")
    assert not looked(wet, *before).lean_in_the_bin
    assert looked(replace(wet, opened_weight=None), *before).lean_in_the_bin
    assert looked(wetter(a_test(trim="9", skin="19"), "1"), *before).lean_in_the_bin


NOTHING_DECLARED = a_breakdown(a_main("round", "0"), some_trim("dice", "0"), a_loss("skin", "0"),
                               yields_from=YieldsFrom.TESTS)


@pytest.mark.parametrize("plan", [NOTHING_DECLARED, a_breakdown(a_main("round", "0.5"), some_trim("dice", "0"),
                                                                a_loss("skin", "0"), yields_from=YieldsFrom.TESTS)])
@pytest.mark.parametrize("before", [EIGHT[:1], EIGHT])
def test_yields_that_nobody_declared_excuse_no_weight_that_is_missing(
    plan: Breakdown, before: list[YieldTest]
) -> None:
    """The tests say that 4 of 100 are in no output; a tenth is taken of what the plan leaves: 25 may be missing."""
    far, near = (weights_looked(plan, a_test(cut), yields_of(plan, before, LATER), Decimal("0.5"))
                 for cut in ("48.9", "49"))
    assert (far.much, far.much_is_missing, near.much_is_missing) == (Fraction(25, 100), True, False)


def test_where_nothing_is_known_no_output_is_out_of_line_and_a_quarter_may_be_missing() -> None:
    yields = yields_of(NOTHING_DECLARED, (), LATER)
    good, bad = (weights_looked(NOTHING_DECLARED, a_test(cut), yields, Decimal("0.5")) for cut in ("70", "7"))
    assert (out_of_line(good), good.much_is_missing, good.unaccounted.in_line) == (set(), False, True)
    assert (out_of_line(bad), bad.much_is_missing, bad.much) == (set(), True, Fraction(25, 100))


def test_what_a_plan_declares_to_dry_away_is_usual_until_a_test_counts() -> None:
    ageing = a_breakdown(a_main("round", "0.65"), yields_from=YieldsFrom.TESTS)
    aged = a_yield_test("100", {"round": "64"}, tested_on=NEW_YEAR)
    assert not weights_looked(ageing, aged, yields_of(ageing, (), LATER), Decimal("0.5")).much_is_missing
    assert not weights_looked(ageing, aged, yields_of(ageing, (aged,), LATER), Decimal("0.5")).much_is_missing
