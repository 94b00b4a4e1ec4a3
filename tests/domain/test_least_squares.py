"""Straight lines by least squares. Judges: the certified values of NIST's reference data, and scipy in floats."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import linregress
from scipy.stats import t as students_t

from service.domain.least_squares import line_through
from service.domain.rounding import published, text
from tests.worked.sheets import sheet

NORRIS = sheet("norris")
Points = list[tuple[Fraction, Fraction]]
thousandths = st.integers(-20_000, 20_000).map(lambda whole: Fraction(whole, 1000))
point_lists = st.lists(st.tuples(thousandths, thousandths), min_size=3, max_size=12, unique_by=lambda point: point[0])


def places(number: str) -> int:
    return len(number.partition(".")[2])


@pytest.mark.parametrize(("said", "certified"), [
    ("slope", "slope"), ("intercept", "intercept"), ("standard_error", "standard_error_of_slope")])
def test_the_line_of_norris_has_the_certified_values_to_every_digit(said: str, certified: str) -> None:
    """Source: NIST StRD, linear regression, Norris.dat; 15 digits."""
    line = line_through([(Fraction(x), Fraction(y)) for y, x in NORRIS["y_and_x"]])
    assert line is not None
    figure = NORRIS["certified"][certified]
    assert text(published(getattr(line, said), places(figure))) == figure


@settings(max_examples=60)
@given(point_lists)
def test_a_line_and_its_interval_are_those_that_scipy_gives(points: Points) -> None:
    line, judge = line_through(points), linregress(*zip(*((float(x), float(y)) for x, y in points), strict=True))
    assert line is not None
    reach = students_t.ppf(0.975, len(points) - 2) * judge.stderr
    low, high = judge.slope - reach, judge.slope + reach
    assert float(line.slope) == pytest.approx(judge.slope, rel=1e-6, abs=1e-6)
    assert float(line.intercept) == pytest.approx(judge.intercept, rel=1e-6, abs=1e-3)
    assert [float(bound) for bound in line.interval] == pytest.approx([low, high], rel=1e-5, abs=1e-4)


def test_two_points_and_points_above_each_other_have_no_line() -> None:
    one, two = (Fraction(1), Fraction(5)), (Fraction(2), Fraction(7))
    assert line_through([one, two]) is None
    assert line_through([one, one, (Fraction(1), Fraction(9))]) is None


def test_points_on_a_line_leave_no_doubt_of_its_slope() -> None:
    line = line_through([(Fraction(x), Fraction(3 - 2 * x, 7)) for x in range(4)])
    assert line is not None
    assert (line.slope, line.standard_error, line.interval) == (Fraction(-2, 7), 0, (Fraction(-2, 7),) * 2)
    assert line.slopes


def test_level_points_do_not_slope_and_scattered_ones_do_not_for_certain() -> None:
    level = line_through([(Fraction(x), Fraction(1, 3)) for x in range(5)])
    scattered = line_through([(Fraction(x), Fraction(y)) for x, y in enumerate((1, 3, 0, 4, 2))])
    assert level is not None
    assert scattered is not None
    assert (level.slopes, scattered.slopes) == (False, False)
