"""How yields are uncertain together. Judges: numpy in floats, the published standard errors, sums that cannot vary."""

from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.breakdown import YieldsFrom
from service.domain.rounding import square_root
from service.domain.yield_covariance import UNACCOUNTED, YieldCovariance, covariance_of, covariance_of_tests
from service.domain.yield_statistics import standard_error
from service.domain.yield_test import YieldTest
from service.domain.yields import weighed, yields_of
from tests.builders import A_DAY, a_breakdown, a_loss, a_main, a_yield_test, some_trim

CUTS = ("cap", "mince", "silverskin")
PLAN = a_breakdown(a_main("cap", "0.5"), some_trim("mince", "0.3"), a_loss("silverskin", "0.1"),
                   yields_from=YieldsFrom.TESTS)
SIX = [a_yield_test(paid, dict(zip(CUTS, outputs, strict=True))) for paid, *outputs in (
    ("8.6", "4.40", "2.50", "0.92"), ("9.1", "4.52", "2.81", "0.95"), ("7.9", "4.11", "2.20", "0.88"),
    ("8.8", "4.31", "2.72", "0.90"), ("8.2", "4.02", "2.49", "0.99"), ("9.4", "4.90", "2.68", "0.93"))]
grams = st.integers(1, 9000).map(lambda weight: f"{weight / 1000:.3f}")
some_tests = st.lists(st.tuples(grams, grams, grams, grams), min_size=2, max_size=8).map(lambda rows: [
    a_yield_test(paid, dict(zip(CUTS, outputs, strict=True))) for paid, *outputs in rows])


def of(tests: list[YieldTest]) -> YieldCovariance:
    found = covariance_of_tests(tests, CUTS)
    assert found is not None
    return found


def by_numpy(tests: list[YieldTest]) -> np.ndarray:
    """The matrix in floats: residuals about the ratios, over the square of the mean input."""
    x = np.array([float(test.input_weight) for test in tests])
    y = np.array([[float(output.weight) for output in test.outputs] for test in tests])
    residuals = y - np.outer(x, y.sum(axis=0) / x.sum())
    return residuals.T @ residuals / (len(x) * (len(x) - 1)) / x.mean() ** 2


def test_the_matrix_of_six_tests_is_the_one_that_numpy_gives() -> None:
    found = [[float(of(SIX).between(one, other)) for other in CUTS] for one in CUTS]
    assert found == pytest.approx(by_numpy(SIX), rel=1e-9)
    assert found[0][1] < 0


@settings(max_examples=40)
@given(some_tests)
def test_a_variance_is_the_square_of_the_standard_error_that_is_published(tests: list[YieldTest]) -> None:
    for cut in CUTS:
        pairs = [(test.paid_for, test.outputs[cut]) for test in map(weighed, tests)]
        assert Fraction(square_root(of(tests).between(cut, cut))) == standard_error(pairs)


@settings(max_examples=40)
@given(some_tests)
def test_all_outputs_and_what_is_unaccounted_for_do_not_vary_in_sum(tests: list[YieldTest]) -> None:
    whole = (*CUTS, UNACCOUNTED)
    assert of(tests).variance_of_sum(dict.fromkeys(whole, Fraction(1))) == 0
    for one in whole:
        assert sum(of(tests).between(one, other) for other in whole) == 0


@settings(max_examples=30)
@given(some_tests, st.lists(st.fractions(-9, 9, max_denominator=99), min_size=3, max_size=3))
def test_a_weighed_sum_varies_by_the_quadratic_form_and_never_below_nil(
    tests: list[YieldTest], weights: list[Fraction]
) -> None:
    found, by_cut = of(tests), dict(zip(CUTS, weights, strict=True))
    form = sum(by_cut[one] * by_cut[other] * found.between(one, other) for one, other in product(CUTS, CUTS))
    assert found.variance_of_sum(by_cut) == form >= 0
    assert found.between("cap", "mince") == found.between("mince", "cap")


def test_a_test_in_pounds_says_the_same_as_one_in_kilograms() -> None:
    tests = [a_yield_test(str(test.input_weight), {o.cut: str(o.weight) for o in test.outputs}, unit="lb")
             for test in SIX]
    assert of(tests).between("cap", "mince") == of(SIX).between("cap", "mince")


def test_yields_that_are_declared_or_of_one_test_have_no_covariance() -> None:
    declared = yields_of(a_breakdown(*PLAN.outputs), SIX, A_DAY)
    assert (declared.basis, covariance_of(declared)) == ("declared", None)
    assert covariance_of(yields_of(PLAN, SIX[:1], A_DAY)) is None
    assert covariance_of(yields_of(PLAN, SIX[:2], A_DAY)) is not None


def test_pieces_that_all_yield_alike_leave_no_doubt() -> None:
    alike = [a_yield_test(paid, {"cap": cap, "mince": "0", "silverskin": "0"})
             for paid, cap in (("8", "0.8"), ("9", "0.9"))]
    assert of(alike).between("cap", "cap") == 0
