"""Yield statistics as documents: of an output or of what is unaccounted for, the chart, the rules, the trend, a test.

Yields, limits and errors go out to 4 decimals; a trend, which is small beside them, to 6.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.control_chart import ControlChart, RuleFired
from service.domain.least_squares import Line
from service.domain.publication import in_words, share_in_words
from service.domain.yield_reading import Reading
from service.domain.yield_statistics import YieldStatistics
from service.domain.yield_test import YieldTest
from service.use_cases.documents import Document

TREND_PLACES = 6


def statistics_document(statistics: YieldStatistics | None) -> Document:
    """How sure a yield is, its chart, the rules that fired on it, and its trend; all unknown without a test."""
    if statistics is None:
        return sureness_document(None) | {"control_chart": None, "rules": [], "trend": None}
    return sureness_document(statistics) | {
        "control_chart": _chart(statistics.chart),
        "rules": [_rule(fired) for fired in statistics.chart.rules],
        "trend": _trend(statistics.trend),
    }


def sureness_document(statistics: YieldStatistics | None) -> Document:
    """Tests, ratio, standard error and interval."""
    if statistics is None:
        return {"tests": 0, "ratio": None, "standard_error": None, "interval_95": None}
    return {
        "tests": statistics.tests, "ratio": share_in_words(statistics.ratio),
        "standard_error": share_in_words(statistics.standard_error),
        "interval_95": None if statistics.interval is None else [share_in_words(it) for it in statistics.interval]}


def named_test(test: YieldTest) -> Document:
    """A test, by its id and day."""
    return {"test": test.id, "tested_on": test.tested_on.isoformat()}


def counting_test(test: YieldTest) -> Document:
    """A test that counts, and which parts of the tests it belongs to."""
    return named_test(test) | {"butcher": test.butcher, "supplier": test.supplier, "grade": test.grade}


def reading_documents(said: Sequence[Reading]) -> list[Document]:
    """What to look at, in plain words."""
    return [{"code": reading.code, "cut": reading.cut, "text": reading.text,
             "test": None if reading.test is None else reading.test.id,
             "tested_on": None if reading.test is None else reading.test.tested_on.isoformat()} for reading in said]


def _chart(chart: ControlChart) -> Document:
    return {
        "centre": share_in_words(chart.centre), "mean_moving_range": share_in_words(chart.mean_moving_range),
        "lower_limit": share_in_words(chart.lower_limit), "upper_limit": share_in_words(chart.upper_limit),
        "points": [named_test(point.test) | {"yield": share_in_words(point.ratio), "outside": point.outside}
                   for point in chart.points],
        "outside": [point.test.id for point in chart.points if point.outside],
    }


def _rule(fired: RuleFired) -> Document:
    return {"rule": fired.rule, **named_test(fired.point.test), "side": fired.side,
            "since": fired.first.test.tested_on.isoformat()}


def _trend(line: Line | None) -> Document | None:
    if line is None:
        return None
    return {"per_30_days": _small(line.slope), "standard_error": _small(line.standard_error),
            "interval_95": [_small(bound) for bound in line.interval], "excludes_zero": line.slopes}


def _small(value: Fraction) -> str | None:
    return in_words(value, TREND_PLACES)
