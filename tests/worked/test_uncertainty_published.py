"""Covariance, propagation and degrees of freedom against the published guide to uncertainty (JCGM 100)."""

from fractions import Fraction
from math import cos, sin
from typing import Any

import pytest

from service.domain.more_tests import effective_degrees
from service.domain.rounding import published, square_root, text
from service.domain.yield_covariance import YieldCovariance, covariance_of_tests
from tests.builders import a_yield_test
from tests.worked.sheets import sheet

GUM = sheet("uncertainty")
TESTS = [a_yield_test("1", observed) for observed in GUM["observations"]]


def covariance() -> YieldCovariance:
    """Of five observations of three quantities: tests whose input is one kg are means of what was weighed."""
    found = covariance_of_tests(TESTS, GUM["means"])
    assert found is not None
    return found


def error_of(weights: dict[str, Fraction]) -> Fraction:
    return Fraction(square_root(covariance().variance_of_sum(weights)))


@pytest.mark.parametrize(("quantity", "printed"), GUM["standard_uncertainties"].items())
def test_each_mean_has_the_guide_s_standard_uncertainty(quantity: str, printed: str) -> None:
    places = len(printed.partition(".")[2])
    assert text(published(error_of({quantity: Fraction(1)}), places)) == printed


@pytest.mark.parametrize(("one", "other", "printed"), GUM["correlations"])
def test_what_is_observed_together_is_correlated_as_in_the_guide(one: str, other: str, printed: str) -> None:
    of_both = covariance().between(one, other)
    correlation = of_both / error_of({one: Fraction(1)}) / error_of({other: Fraction(1)})
    assert text(published(correlation, 2)) == printed


def test_the_resistance_is_as_uncertain_as_in_the_guide() -> None:
    """R = V cos(phase) / I, propagated by its slopes with the covariances: 0.071 ohm, where without them it would be
    0.195."""
    volts, amperes, phase = (float(GUM["means"][name]) / unit
                             for name, unit in (("voltage", 1), ("current", 1000), ("phase", 1)))
    slopes = {"voltage": cos(phase) / amperes, "current": -volts * cos(phase) / amperes**2 / 1000,
              "phase": -volts * sin(phase) / amperes}
    error = error_of({name: Fraction(slope) for name, slope in slopes.items()})
    assert f"{volts * cos(phase) / amperes:.3f}" == GUM["resistance"]["ohm"]
    assert f"{float(error):.3f}" == GUM["resistance"]["standard_uncertainty"]
    alone = sum(slope**2 * float(covariance().between(name, name)) for name, slope in slopes.items())
    assert alone**0.5 > 2.5 * float(error)


@pytest.mark.parametrize("example", GUM["effective_degrees"], ids=lambda example: example["example"])
def test_effective_degrees_of_freedom_are_the_guide_s(example: dict[str, Any]) -> None:
    """The guide prints them to one decimal (16.76 as 16.7), and takes the next lower whole number."""
    degrees = effective_degrees((Fraction(uncertainty) ** 2, Fraction(own)) for uncertainty, own in example["parts"])
    assert degrees is not None
    assert abs(degrees - Fraction(example["degrees"])) < Fraction("0.1")
    assert int(degrees) == example["taken"]
