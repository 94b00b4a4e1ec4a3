"""Rounding is half away from zero, once, from the exact figure.

Judge: the decimal module's ROUND_HALF_UP (which is half away from zero) and its sqrt at 90 digits.
"""

from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.rounding import published, rounded_up_to, square_root, text, to_fifty_digits

WIDE = Context(prec=400, rounding=ROUND_HALF_UP, Emax=10**6, Emin=-10**6)
FIFTY = Context(prec=50, rounding=ROUND_HALF_UP, Emax=10**6, Emin=-10**6)


@pytest.mark.parametrize(("value", "places", "printed"), [
    ("2.5", 0, "3"), ("-2.5", 0, "-3"), ("0.125", 2, "0.13"), ("-0.125", 2, "-0.13"), ("1.00005", 4, "1.0001"),
    ("30.004", 2, "30.00"), ("2", 4, "2.0000"), ("-0.00004", 4, "0.0000"), ("1/3", 4, "0.3333"), ("2/3", 4, "0.6667"),
])
def test_half_goes_away_from_zero_and_every_decimal_is_shown(value: str, places: int, printed: str) -> None:
    assert text(published(Fraction(value), places)) == printed


def test_a_loss_too_small_to_show_is_no_minus_zero() -> None:
    assert not published(Fraction("-0.00004"), 4).is_signed()


@given(st.integers(-10**24, 10**24), st.integers(0, 8), st.integers(0, 6))
def test_a_decimal_is_rounded_as_the_decimal_module_rounds_it_half_up(units: int, scale: int, places: int) -> None:
    expected = Decimal(units).scaleb(-scale, WIDE).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP, WIDE)
    assert published(Fraction(units, 10**scale), places) == expected


@given(st.fractions(), st.integers(0, 6))
def test_no_other_number_of_that_many_decimals_is_nearer(value: Fraction, places: int) -> None:
    answer = published(value, places)
    assert abs(Fraction(answer) - value) <= Fraction(1, 2 * 10**places)
    assert answer.as_tuple().exponent == -places


@given(st.fractions(min_value=Fraction(1, 10**12)), st.integers(0, 6))
def test_what_is_owed_rounds_as_what_is_due(value: Fraction, places: int) -> None:
    assert published(-value, places) == -published(value, places)


@pytest.mark.parametrize(("value", "printed"), [
    ("1E+5", "100000"), ("1E-9", "0.000000001"), ("-0.00", "0.00"), ("14.20", "14.20"), ("-3.50", "-3.50"),
])
def test_numbers_are_written_without_an_exponent_or_a_minus_zero(value: str, printed: str) -> None:
    assert text(Decimal(value)) == printed


@pytest.mark.parametrize(("value", "step", "answer"), [
    ("16.7592", "0.05", "16.80"), ("16.80", "0.05", "16.80"), ("16.8000001", "0.05", "16.85"),
    ("16.01", "0.50", "16.50"), ("120.01", "1", "121"), ("0", "0.05", "0"),
])
def test_a_price_steps_up_and_stays_where_it_is_on_a_step(value: str, step: str, answer: str) -> None:
    assert rounded_up_to(Fraction(value), Fraction(step)) == Fraction(answer)


@given(st.fractions(min_value=0).filter(bool))
def test_a_square_root_is_the_wide_root_rounded_to_fifty_digits(value: Fraction) -> None:
    wide = WIDE.sqrt(WIDE.divide(Decimal(value.numerator), Decimal(value.denominator)))
    assert square_root(value) == FIFTY.plus(wide)
    assert len(square_root(value).as_tuple().digits) == 50


@given(st.fractions(min_value=0, max_denominator=10**9, max_value=10**9))
def test_the_root_of_a_square_is_what_was_squared(value: Fraction) -> None:
    assert square_root(value * value) == to_fifty_digits(value)


def test_roots_of_short_numbers_are_exact_and_below_zero_there_is_none() -> None:
    assert square_root(Fraction("0.0625")) == Decimal("0.25")
    assert square_root(Fraction(0)) == 0
    with pytest.raises(ValueError, match="no real square root"):
        square_root(Fraction(-1))


@pytest.mark.parametrize("root", ["1", "10", "0.1", "1000", "0.001", "9.99", "0.999", "3.17", "31.7", "0.317"])
def test_on_either_side_of_a_power_of_ten_there_are_fifty_digits(root: str) -> None:
    exact = Fraction(root)
    assert square_root(exact * exact) == to_fifty_digits(exact) == Decimal(root)
    assert len(square_root(exact * exact).as_tuple().digits) == len(to_fifty_digits(exact).as_tuple().digits) == 50


@pytest.mark.parametrize(("last_two", "rounded"), [("05", "1"), ("04", "0"), ("06", "1"), ("15", "2")])
def test_a_root_half_way_between_two_of_fifty_digits_goes_up(last_two: str, rounded: str) -> None:
    """1.000...05 has 51 digits: 1, 48 zeros and the two."""
    root, zeros = Fraction(f"1.{'0' * 48}{last_two}"), "0" * 48
    assert square_root(root * root) == to_fifty_digits(root) == Decimal(f"1.{zeros}{rounded}")


@given(st.fractions())
def test_fifty_digits_are_those_of_a_half_up_division(value: Fraction) -> None:
    assert to_fifty_digits(value) == FIFTY.divide(Decimal(value.numerator), Decimal(value.denominator))
