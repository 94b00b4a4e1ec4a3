"""Sums of exact figures, and arithmetic with figures that may not be known: by hand."""

from fractions import Fraction

import pytest

from service.domain.exact_sums import added, exact_sum, less, times, worth

HALF, THIRD, QUARTER = Fraction(1, 2), Fraction(1, 3), Fraction(1, 4)


@pytest.mark.parametrize(("values", "total"), [
    ([], Fraction(0)), ([THIRD], THIRD), ([HALF, THIRD, Fraction(1, 6)], Fraction(1)),
    ([QUARTER, THIRD, QUARTER, QUARTER], Fraction(13, 12)), ([HALF, -THIRD, Fraction(2)], Fraction(13, 6)),
    ([Fraction(3, 8), Fraction(-3, 8)], Fraction(0))])
def test_the_sum_is_exact_whatever_the_denominators_and_the_order(values: list[Fraction], total: Fraction) -> None:
    assert exact_sum(values) == exact_sum(reversed(values)) == total


@pytest.mark.parametrize(("quantity", "each", "is_worth"), [
    (Fraction(3), Fraction("2.50"), Fraction("7.50")), (HALF, THIRD, Fraction(1, 6)),
    (Fraction(3), Fraction(0), Fraction(0)), (Fraction(0), Fraction("2.50"), Fraction(0)),
    (Fraction(3), None, None), (None, Fraction("2.50"), None), (None, None, None)])
def test_three_at_2_50_are_worth_7_50_and_what_is_not_known_is_not_nil(
        quantity: Fraction | None, each: Fraction | None, is_worth: Fraction | None) -> None:
    assert worth(quantity, each) == is_worth


def test_nothing_is_worth_nothing_whatever_a_unit_of_it_costs() -> None:
    assert worth(Fraction(0), None) == 0


def test_what_is_unknown_in_a_part_is_unknown_in_the_whole() -> None:
    assert (added(HALF, THIRD), added(HALF, None), added(None, None)) == (Fraction(5, 6), None, None)
    assert (less(HALF, THIRD), less(HALF, None), less(None, THIRD)) == (Fraction(1, 6), None, None)
    assert (times(HALF, THIRD), times(HALF, None), times(None, THIRD)) == (Fraction(1, 6), None, None)
    assert added() == 0
