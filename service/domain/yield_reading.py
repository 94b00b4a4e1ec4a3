"""What the statistics of yield tests mean, in plain words: what a person should look at.

    few_tests            fewer than eight tests: limits and intervals are a first guess
    outside_limits       a test lies outside the limits of an output's chart
    eight_on_one_side    eight tests running lie on one side of the centre
    trend                an output's yield rises or falls by more than the tests' own scatter
    lean_into_the_bin    loss is up while trim is down

Rules that always hold: what is said of an output names it; in the order of the breakdown, what is unaccounted for last.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.control_chart import EIGHT, RUN, ControlChart, RuleFired
from service.domain.lean_in_the_bin import Half, lean_in_the_bin
from service.domain.publication import percent_in_words
from service.domain.yield_statistics import TREND_DAYS, YieldStatistics
from service.domain.yield_test import YieldTest

UNACCOUNTED = "What is unaccounted for"


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing to look at. `cut` and `test` None: it is of no one output, of no one test."""

    code: str
    text: str
    cut: str | None = None
    test: YieldTest | None = None


def readings(breakdown: Breakdown, tests: Sequence[YieldTest], statistics: Sequence[YieldStatistics]
             ) -> tuple[Reading, ...]:
    """What tests of a breakdown say, given in order of test date, with the statistics made of them."""
    names = {output.cut: output.name for output in breakdown.outputs}
    said = [reading for one in statistics for reading in _of_one(one, names.get(one.cut or "", UNACCOUNTED))]
    return (*_of_lean(breakdown, tests), *said, *_few(len(tests)))


def _of_one(statistics: YieldStatistics, name: str) -> Iterator[Reading]:
    chart = statistics.chart
    for fired in chart.rules:
        text = _eight(fired, chart) if fired.rule == EIGHT else _outside(fired, chart)
        yield Reading(fired.rule, f"{name}: {text}", statistics.cut, fired.point.test)
    trend = statistics.trend
    if trend is not None and trend.slopes:
        moves, (low, high) = "rises" if trend.slope > 0 else "falls", sorted(map(abs, trend.interval))
        yield Reading("trend", f"{name}: it {moves} by {_points(abs(trend.slope))} percentage points of the input in "
                      f"{TREND_DAYS} days (95 % interval {_points(low)} to {_points(high)}).", statistics.cut)


def _outside(fired: RuleFired, chart: ControlChart) -> str:
    test, limit = fired.point.test, chart.upper_limit if fired.side == "above" else chart.lower_limit
    return (f"test {test.id} of {test.tested_on} gave {_percent(fired.point.ratio)}, {fired.side} the limit of "
            f"{_percent(limit or Fraction(0))}.")


def _eight(fired: RuleFired, chart: ControlChart) -> str:
    return (f"eight tests running, {fired.first.test.tested_on} to {fired.point.test.tested_on}, lie {fired.side} the "
            f"centre of {_percent(chart.centre)}: something has changed.")


def _of_lean(breakdown: Breakdown, tests: Sequence[YieldTest]) -> Iterator[Reading]:
    seen = lean_in_the_bin(breakdown, tests)
    if seen is not None:
        earlier, later = seen.earlier, seen.later
        yield Reading(
            "lean_into_the_bin",
            "Loss up while trim is down is the sign that lean goes into the bin: from the tests "
            f"{_when(earlier)} to those {_when(later)}, loss (what is unaccounted for too) went from "
            f"{_percent(earlier.loss)} to {_percent(later.loss)}, trim from {_percent(earlier.trim)} to "
            f"{_percent(later.trim)}.")


def _few(tests: int) -> Iterator[Reading]:
    if tests == 0:
        yield Reading("few_tests", "No test counts here: nothing says how far the yields can be trusted.")
    elif tests < RUN:
        counted = "1 test" if tests == 1 else f"{tests} tests"
        yield Reading("few_tests", f"This rests on {counted}: below eight, limits and intervals are a first guess, and "
                      "the rule of eight on one side cannot speak.")


def _when(half: Half) -> str:
    first, last = half.tests[0].tested_on, half.tests[-1].tested_on
    return f"of {first}" if first == last else f"of {first} to {last}"


def _percent(share: Fraction) -> str:
    return f"{percent_in_words(share * 100)} %"


def _points(share: Fraction) -> str:
    return str(percent_in_words(share * 100))
