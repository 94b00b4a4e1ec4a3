"""How sure a yield is. Judges: numpy and scipy in floats, exact squares, and the handbook's control chart (its figures
are held in the worked sheets)."""

from datetime import timedelta
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as students_t

from service.domain.history import Mark
from service.domain.rounding import published, text
from service.domain.yield_statistics import draining, standard_error, statistics_of
from service.domain.yield_test import YieldTest
from tests.builders import NEW_YEAR, a_yield_test

Weights = list[tuple[Fraction, Fraction]]
grams = st.integers(200, 20_000).map(lambda weight: Fraction(weight, 1000))
weight_lists = st.lists(st.tuples(grams, grams), min_size=2, max_size=12)


def caps_of(*pairs: tuple[str, str]) -> list[YieldTest]:
    return [a_yield_test(paid, {"cap": cap}, made=Mark(n, 1), tested_on=NEW_YEAR + timedelta(n))
            for n, (paid, cap) in enumerate(pairs, 1)]


SIX = caps_of(("8.6", "0.742"), ("9.1", "0.81"), ("7.9", "0.655"), ("8.8", "0.79"), ("8.2", "0.70"), ("9.4", "0.802"))


def test_one_test_has_a_yield_and_nothing_to_be_sure_of_it() -> None:
    alone = statistics_of("cap", SIX[:1])
    assert alone is not None
    assert alone.ratio == Fraction("0.742") / Fraction("8.6")
    assert (alone.standard_error, alone.interval) == (None, None)
    assert (alone.chart.lower_limit, alone.chart.upper_limit, alone.chart.mean_moving_range) == (None, None, None)
    assert [point.outside for point in alone.chart.points] == [False]
    assert statistics_of("cap", []) is None


def test_the_interval_of_six_tests_is_the_one_that_numpy_and_scipy_give() -> None:
    said = statistics_of("cap", SIX)
    x, y = (np.array(row, dtype=float) for row in zip(
        *((test.input_weight, test.outputs[0].weight) for test in SIX), strict=True))
    ratio = y.sum() / x.sum()
    error = np.sqrt(((y - ratio * x) ** 2).sum() / (6 * 5)) / x.mean()
    low, high = students_t.interval(0.95, 5, loc=ratio, scale=error)
    assert said is not None
    assert said.standard_error is not None
    assert said.interval is not None
    assert said.tests == 6
    assert float(said.standard_error) == pytest.approx(error, rel=1e-12)
    assert [text(published(bound, 4)) for bound in said.interval] == [f"{low:.4f}", f"{high:.4f}"]


@given(weight_lists)
def test_a_standard_error_squared_is_the_exact_variance_to_fifty_digits(pairs: Weights) -> None:
    error = standard_error(pairs)
    assert error is not None
    n, paid = len(pairs), sum(x for x, _ in pairs)
    ratio = sum(y for _, y in pairs) / paid
    exact = sum((y - ratio * x) ** 2 for x, y in pairs) * n * n / (n * (n - 1) * paid**2)
    assert abs(error**2 - exact) <= exact * Fraction(11, 10**50)


@given(weight_lists, st.sampled_from([Fraction("0.45359237"), Fraction(1000), Fraction(1, 3)]))
def test_the_unit_of_the_scale_changes_no_standard_error(pairs: Weights, unit: Fraction) -> None:
    assert standard_error(pairs) == standard_error([(x * unit, y * unit) for x, y in pairs])


def test_pieces_that_all_yield_alike_leave_no_doubt() -> None:
    alike = statistics_of("cap", caps_of(("8", "0.8"), ("9", "0.9"), ("7", "0.7")))
    assert alike is not None
    assert alike.standard_error == 0
    assert alike.interval == (Fraction(1, 10), Fraction(1, 10))
    assert alike.chart.lower_limit == alike.chart.upper_limit == Fraction(1, 10)
    assert not any(point.outside for point in alike.chart.points)


def test_the_chart_runs_in_the_order_given_and_marks_what_stands_out() -> None:
    usual = [("10", "1.00"), ("10", "1.02")] * 6
    said = statistics_of("cap", caps_of(*usual, ("10", "1.30"), *usual))
    assert said is not None
    outside = [point.test.tested_on for point in said.chart.points if point.outside]
    assert outside == [NEW_YEAR + timedelta(13)]
    assert [point.ratio for point in said.chart.points[:2]] == [Fraction("0.100"), Fraction("0.102")]


def test_the_charts_centre_is_the_mean_of_the_tests_and_not_the_ratio_of_sums() -> None:
    said = statistics_of("cap", caps_of(("2", "0.2"), ("10", "1.3")))
    assert said is not None
    assert (said.ratio, said.chart.centre) == (Fraction(15, 120), Fraction("0.115"))


def test_purge_is_shown_apart_from_what_the_knife_lost() -> None:
    opened = a_yield_test("8.600", {"cap": "0.742", "rest": "7.488"}, opened_weight="8.360")
    not_opened = a_yield_test("9", {"cap": "0.8", "rest": "8"})
    drained = draining([opened, not_opened])
    assert drained is not None
    assert drained.tests == 1
    assert drained.purge == Fraction("0.24") / Fraction("8.6")
    assert drained.cutting_loss == Fraction("0.13") / Fraction("8.6")
    assert draining([not_opened]) is None
