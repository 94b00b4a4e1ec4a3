"""GTINs are told by their length and check digit.

Source: worked examples that GS1's member organisations publish with their explanation of the calculation (GS1 Hong
Kong: 629104150021 and 3; GS1 India: 890400021003 and 7; GS1 Sweden: 730001100001 and 7), and GS1's table of the weights
of all positions, right justified (General Specifications, section 7.9.1), which judges the other lengths.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.gtin import LENGTHS, check_digit, gtin_fault, in_fourteen_digits

PUBLISHED = ["6291041500213", "8904000210037", "7300011000017"]
WEIGHTS_RIGHT_JUSTIFIED = (3, 1, 3, 1, 3, 1, 3, 1, 3, 1, 3, 1, 3, 1, 3, 1, 3)
"""As the table prints them, for up to 17 digits before the check digit."""

digits = st.sampled_from(LENGTHS).flatmap(
    lambda length: st.text("0123456789", min_size=length - 1, max_size=length - 1))


@pytest.mark.parametrize("gtin", PUBLISHED)
def test_published_examples_check(gtin: str) -> None:
    assert gtin_fault(gtin) is None
    assert check_digit(gtin[:-1]) == gtin[-1]


@pytest.mark.parametrize("gtin", PUBLISHED)
def test_any_one_digit_misread_is_found_and_the_due_one_named(gtin: str) -> None:
    for place, digit in enumerate(gtin):
        for other in set("0123456789") - {digit}:
            assert gtin_fault(gtin[:place] + other + gtin[place + 1:]) is not None
    wrong = str((int(gtin[-1]) + 1) % 10)
    assert f"comes {gtin[-1]}" in str(gtin_fault(gtin[:-1] + wrong))


@given(digits)
def test_the_check_digit_brings_the_weighed_sum_to_a_multiple_of_ten(body: str) -> None:
    weights = WEIGHTS_RIGHT_JUSTIFIED[-len(body):]
    weighed = sum(int(digit) * weight for digit, weight in zip(body, weights, strict=True))
    assert (weighed + int(check_digit(body))) % 10 == 0
    assert gtin_fault(body + check_digit(body)) is None


@given(digits)
def test_zeros_in_front_make_no_other_number(body: str) -> None:
    gtin = body + check_digit(body)
    whole = in_fourteen_digits(gtin)
    assert (len(whole), int(whole)) == (14, int(gtin))
    assert gtin_fault(whole) is None


@pytest.mark.parametrize("text", ["1234567", "629104150021", "62910415002130", "629104150021x", "6 291041 500213",
                                  "\u0666\u0662\u0669\u0661\u0660\u0664\u0661\u0665", "-6291041500213", "0" * 15])
def test_what_is_no_gtin_is_refused(text: str) -> None:
    """A digit short, a digit long, letters, blanks, digits of another script."""
    assert gtin_fault(text) is not None
