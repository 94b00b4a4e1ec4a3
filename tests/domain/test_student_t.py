"""Student's t without floats. Judges: scipy's quantile, and the closed forms at one and two degrees of freedom."""

from decimal import Decimal, localcontext
from fractions import Fraction

import pytest
from scipy.stats import t as students_t

from service.domain.rounding import square_root
from service.domain.student_t import t_of_95_percent


@pytest.mark.parametrize("degrees", [*range(1, 61), 99, 100, 249, 250, 1999])
def test_the_bound_agrees_with_scipy_as_far_as_floats_go(degrees: int) -> None:
    assert float(t_of_95_percent(degrees)) == pytest.approx(students_t.ppf(0.975, degrees), rel=2e-14)


def test_two_degrees_of_freedom_have_a_closed_form_in_square_roots() -> None:
    """t = 0.95 sqrt(2 / (1 - 0.95^2)), which is sqrt(361 x 2 / 39)."""
    assert t_of_95_percent(2) == square_root(Fraction(361 * 2, 39))


def test_one_degree_of_freedom_is_the_tangent_of_85_and_a_half_degrees() -> None:
    """1 / tan 4.5 deg, by half angles in square roots alone.

    tan 18 deg = sqrt(1 - 2 / sqrt 5), and tan(x / 2) = (sqrt(1 + tan^2 x) - 1) / tan x, twice, gives tan 4.5 deg.
    """
    with localcontext(prec=70):
        tangent = (1 - 2 / Decimal(5).sqrt()).sqrt()
        for _ in range(2):
            tangent = ((1 + tangent * tangent).sqrt() - 1) / tangent
        assert abs(1 / tangent - t_of_95_percent(1)) < Decimal("1e-48")


def test_the_bound_falls_towards_that_of_the_normal_distribution() -> None:
    bounds = [t_of_95_percent(degrees) for degrees in range(1, 40)]
    assert bounds == sorted(bounds, reverse=True)
    assert bounds[-1] > Decimal("1.959963984540054")


def test_one_test_leaves_no_degree_of_freedom() -> None:
    with pytest.raises(ValueError, match="no bound at 0 degrees"):
        t_of_95_percent(0)
