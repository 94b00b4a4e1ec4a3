"""How many more tests make a sum sure enough. Judges: each smaller number tried in turn; scipy's Student's t."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t as students_t

from service.domain.more_tests import Part, degrees_of_freedom, half_width_squared, more_tests, variance_of

MOST = 60
variances = st.fractions(0, 4, max_denominator=1000)
parts = st.builds(Part, variances, st.integers(2, 12))
reaches = st.fractions(Fraction(1, 100), 8, max_denominator=100)


def with_tests(part: Part, tests: int) -> Part:
    """The part over another number of tests that scatter as these do."""
    return Part(part.variance * part.tests / tests, tests)


def holds(main: Part, others: list[Part], tests: int, reach: Fraction) -> bool:
    return half_width_squared([with_tests(main, tests), *others]) <= reach**2


@settings(max_examples=100, deadline=None)
@given(parts, st.lists(parts, max_size=3), reaches)
def test_it_is_the_least_number_that_does_and_none_is_said_where_none_does(
    main: Part, others: list[Part], reach: Fraction
) -> None:
    by_trying = next((tests - main.tests for tests in range(main.tests, MOST + 1)
                      if holds(main, others, tests, reach)), None)
    assert more_tests(main, others, reach, MOST) == by_trying


def test_a_part_alone_needs_what_a_statistics_library_says() -> None:
    """Six tests leave 3 % and 1 % is wanted: the least n with t(n - 1) x 0.03 x sqrt(6 / n) at most 0.01."""
    main = Part(Fraction("0.03") ** 2, 6)
    by_scipy = next(n for n in range(6, 1000)
                    if students_t.ppf(0.975, n - 1) * 0.03 * (6 / n) ** 0.5 <= 0.01)
    assert by_scipy == 6 + (more_tests(main, [], Fraction("0.01")) or 0)


def test_what_is_sure_enough_needs_no_more() -> None:
    assert more_tests(Part(Fraction("0.0001"), 6), [], Fraction("0.03")) == 0
    assert more_tests(Part(Fraction(0), 2), [], Fraction("0.01")) == 0
    assert half_width_squared([Part(Fraction(0), 2)]) == 0


def test_where_the_others_alone_are_too_uncertain_no_number_does() -> None:
    others = [Part(Fraction("0.04"), 4)]
    assert more_tests(Part(Fraction("0.09"), 5), others, Fraction("0.3")) is None
    assert more_tests(Part(Fraction("0.09"), 5), others, Fraction("0.7")) is not None


def test_more_tests_can_widen_an_interval_whose_rest_is_known_from_two() -> None:
    """So the least number is looked for from below: it does, and more would not."""
    main, other = Part(Fraction(10), 9), Part(Fraction(1), 2)
    widths = [half_width_squared([with_tests(main, tests), other]) for tests in range(9, 60)]
    assert widths != sorted(widths, reverse=True)
    reach = Fraction(5)
    found = more_tests(main, [other], reach)
    assert found is not None
    assert holds(main, [other], 9 + found, reach)
    assert not holds(main, [other], 900, reach)


@settings(max_examples=50)
@given(st.lists(st.builds(Part, st.fractions(Fraction(1, 1000), 4, max_denominator=1000), st.integers(2, 12)),
                min_size=1, max_size=4))
def test_degrees_of_freedom_lie_between_the_least_sure_part_s_and_all_together(several: list[Part]) -> None:
    """As JCGM 100, G.4.1 notes of the formula."""
    degrees = degrees_of_freedom(several)
    assert degrees is not None
    assert min(part.tests - 1 for part in several) <= degrees <= sum(part.tests - 1 for part in several)
    assert float(half_width_squared(several)) == pytest.approx(
        students_t.ppf(0.975, degrees) ** 2 * float(variance_of(several)), rel=1e-9)
