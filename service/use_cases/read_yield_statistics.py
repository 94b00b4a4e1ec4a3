"""Read yield statistics: what the tests of a breakdown say, how sure they are, and which of them stand out.

Yields, limits and errors go out to 4 decimals. Of every test it is said whether it counts on the day and why not.
"""

from collections.abc import Iterable
from datetime import date
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.errors import NotFound
from service.domain.kitchen import Kitchen
from service.domain.publication import share_in_words
from service.domain.yield_statistics import ControlChart, YieldStatistics, draining, statistics_of
from service.domain.yield_test import YieldTest
from service.domain.yields import Yields, yields_of
from service.use_cases.documents import Document


def yield_statistics(kitchen: Kitchen, breakdown: str, day: date) -> Document:
    """The statistics of every output of a breakdown over the tests that count on `day`.

    Raises:  NotFound when no such breakdown stands that day.
    """
    plan = kitchen.on(day).breakdowns.get(breakdown)
    if plan is None:
        raise NotFound(f"There is no breakdown {breakdown!r} on {day}.")
    tests = kitchen.yield_tests.get(breakdown, ())
    yields = yields_of(plan, tests, day)
    drained = draining(yields.counting)
    return {
        "breakdown": plan.code, "name": plan.name, "as_of": day.isoformat(), "revision": kitchen.revision,
        "yields_from": plan.yields_from.value, "yield_basis": yields.basis,
        "unaccounted": share_in_words(yields.unaccounted),
        "draining": None if drained is None else {
            "tests": drained.tests, "purge": share_in_words(drained.purge),
            "cutting_loss": share_in_words(drained.cutting_loss)},
        "counting": [_test(test) for test in yields.counting],
        "set_aside": [_test(test) | {"reason": test.set_aside.reason} for test in tests if test.set_aside is not None],
        "set_aside_by_itself": [_test(test) | _difference(test, plan) for test in yields.set_aside_by_itself],
        "not_yet_made": [_test(test) for test in tests if test.set_aside is None and test.tested_on > day],
        "outputs": list(_outputs(plan, yields)),
    }


def _outputs(plan: Breakdown, yields: Yields) -> Iterable[Document]:
    for output in plan.outputs:
        statistics = statistics_of(output.cut, yields.counting)
        yield {
            "cut": output.cut, "name": output.name, "role": output.role.value,
            "yield": share_in_words(yields.fractions[output.cut]),
            "expected_yield": share_in_words(Fraction(output.expected_yield)),
            **_statistics(statistics),
        }


def _statistics(statistics: YieldStatistics | None) -> Document:
    if statistics is None:
        return {"tests": 0, "ratio": None, "standard_error": None, "interval_95": None, "control_chart": None}
    interval = statistics.interval
    return {
        "tests": statistics.tests, "ratio": share_in_words(statistics.ratio),
        "standard_error": share_in_words(statistics.standard_error),
        "interval_95": None if interval is None else [share_in_words(bound) for bound in interval],
        "control_chart": _chart(statistics.chart),
    }


def _chart(chart: ControlChart) -> Document:
    return {
        "centre": share_in_words(chart.centre), "mean_moving_range": share_in_words(chart.mean_moving_range),
        "lower_limit": share_in_words(chart.lower_limit), "upper_limit": share_in_words(chart.upper_limit),
        "points": [_test(point.test) | {"yield": share_in_words(point.ratio), "outside": point.outside}
                   for point in chart.points],
        "outside": [point.test.id for point in chart.points if point.outside],
    }


def _test(test: YieldTest) -> Document:
    return {"test": test.id, "tested_on": test.tested_on.isoformat()}


def _difference(test: YieldTest, plan: Breakdown) -> Document:
    """Why a test does not count by itself: it was weighed against another list of outputs."""
    listed = {output.cut for output in plan.outputs}
    return {"not_weighed": sorted(listed - test.cuts), "not_listed": sorted(test.cuts - listed)}
