"""The sign that lean goes into the bin. Judge: scipy's t test of two means with a common variance."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import ttest_ind

from service.domain.history import Mark
from service.domain.lean_in_the_bin import lean_in_the_bin
from service.domain.yield_test import YieldTest
from tests.builders import NEW_YEAR, a_breakdown, a_loss, a_main, a_yield_test, some_trim

PLAN = a_breakdown(a_main("round", "0.70"), some_trim("dice", "0.12"), some_trim("mince", "0.06"),
                   a_loss("silverskin", "0.08"))
Cut = tuple[str, str, str]
"""What 100 kg gave: dice, mince, silverskin. The round is 70, so that the rest is unaccounted for."""


def cut_up(*cuts: Cut, **facts: str) -> list[YieldTest]:
    return [a_yield_test("100", {"round": "70", "dice": dice, "mince": mince, "silverskin": skin}, made=Mark(n, 1),
                         tested_on=NEW_YEAR + timedelta(n), **facts) for n, (dice, mince, skin) in enumerate(cuts, 1)]


CAREFUL: Sequence[Cut] = [("12", "6", "8"), ("12.2", "6.1", "7.8"), ("11.9", "6", "8.1")]
HASTY: Sequence[Cut] = [("10", "5.9", "10"), ("10.1", "5.6", "10.2"), ("9.8", "6.1", "10.1")]


def test_loss_up_while_trim_is_down_is_lean_in_the_bin() -> None:
    seen = lean_in_the_bin(PLAN, cut_up(*CAREFUL, *HASTY))
    assert seen is not None
    careful, hasty = (sum(Fraction(dice) + Fraction(mince) for dice, mince, _ in cuts) / 300
                      for cuts in (CAREFUL, HASTY))
    assert (seen.earlier.trim, seen.later.trim) == (careful, hasty)
    assert (seen.earlier.loss, seen.later.loss) == (Fraction(30, 100) - careful, Fraction(30, 100) - hasty)
    assert [test.id for test in seen.later.tests] == ["4-1", "5-1", "6-1"]


def test_lean_that_vanishes_unweighed_is_in_the_bin_too() -> None:
    """The silverskin is as it was; what is missing from the trim is unaccounted for."""
    unweighed = [(dice, mince, "8") for dice, mince, _ in HASTY]
    assert lean_in_the_bin(PLAN, cut_up(*CAREFUL, *unweighed)) is not None


def test_the_other_way_round_is_no_sign() -> None:
    assert lean_in_the_bin(PLAN, cut_up(*HASTY, *CAREFUL)) is None


def rounds_of(tests: list[YieldTest], *rounds: str) -> list[YieldTest]:
    """The same tests, with other weights of the round."""
    return [replace(test, outputs=tuple(
        replace(output, weight=Decimal(weight)) if output.cut == "round" else output for output in test.outputs))
        for test, weight in zip(tests, rounds, strict=True)]


def test_trim_that_is_down_by_a_hair_is_not_down() -> None:
    """Five of 100 go from the round into the bin; the trim weighs what it weighed, but for a gram or two."""
    trims = ("12", "12.01", "11.99", "12", "12", "11.99", "12", "11.999")
    tests = rounds_of(cut_up(*((dice, "6", "8") for dice in trims)), *["70"] * 4, *["65"] * 4)
    assert lean_in_the_bin(PLAN, tests) is None


def test_loss_that_is_up_by_a_hair_is_not_up() -> None:
    """Four of 100 go from the trim into the round; the loss is as it was, but for a gram or two."""
    tests = rounds_of(cut_up(*[("12", "6", "8")] * 4, *[("7.99", "6", "8")] * 4),
                      "70", "70.1", "69.9", "70", "74", "74.1", "73.9", "74")
    assert lean_in_the_bin(PLAN, tests) is None


def test_three_tests_are_too_few() -> None:
    assert lean_in_the_bin(PLAN, cut_up(CAREFUL[0], HASTY[0], HASTY[1])) is None
    assert lean_in_the_bin(PLAN, cut_up(*CAREFUL[:2], *HASTY[:2])) is not None


def test_a_plan_without_trim_has_none_to_lose() -> None:
    no_trim = a_breakdown(a_main("round", "0.70"), a_main("dice", "0.12"), a_main("mince", "0.06"),
                          a_loss("silverskin", "0.08"))
    assert lean_in_the_bin(no_trim, cut_up(*CAREFUL, *HASTY)) is None


def test_what_drained_off_before_the_knife_is_nobodys_lean() -> None:
    """Wetter goods: of 100 kg, 95 come to the block, and each kg there gives what it always gave."""
    scale = Decimal("0.95")
    wet = [replace(test, opened_weight=Decimal(95), outputs=tuple(
        replace(output, weight=output.weight * scale) for output in test.outputs)) for test in cut_up(*CAREFUL)]
    dry = cut_up(*CAREFUL, opened_weight="100")
    assert lean_in_the_bin(PLAN, [*dry, *wet]) is None
    assert lean_in_the_bin(PLAN, [*cut_up(*CAREFUL), *wet]) is not None


tenths = st.integers(0, 20)


@settings(max_examples=60)
@given(st.lists(st.tuples(tenths, tenths), min_size=4, max_size=12), st.integers(0, 30))
def test_the_sign_is_more_than_chance_as_scipy_tells_it(weights: list[tuple[int, int]], lost: int) -> None:
    """What is lost of the trim in the later half is loss there, so that the two halves differ by twice as much."""
    half = len(weights) // 2
    tenths_of_trim = [dice + mince + 60 - lost * (place >= half) for place, (dice, mince) in enumerate(weights)]
    rises = [300 - 2 * trim for trim in tenths_of_trim]
    assume(all(len(set(part)) > 1 for part in (rises[:half], rises[half:])))
    low = ttest_ind(rises[half:], rises[:half]).confidence_interval(0.95).low
    assume(abs(low) > 1e-6)
    tests = cut_up(*((f"{Decimal(trim) / 10}", "0", "8") for trim in tenths_of_trim))
    assert (lean_in_the_bin(PLAN, tests) is not None) == (low > 0)
