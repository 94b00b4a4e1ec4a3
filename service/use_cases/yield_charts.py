"""The yields of a breakdown as charts: every output, and what is unaccounted for, with its tests, centre and limits.

Percents of the input, to 2 decimals. Of a point it is said whether it lies outside the limits, and whether it belongs
to eight running on one side of the centre.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.control_chart import EIGHT, ControlChart
from service.domain.cut_figures import CutSheet
from service.domain.publication import percent_in_words
from service.domain.yield_reading import UNACCOUNTED, readings
from service.domain.yield_statistics import YieldStatistics, statistics_of, statistics_of_unaccounted
from service.domain.yield_test import YieldTest
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

IS_OUTSIDE, IN_A_RUN = "outside", "run"


def yield_charts(snapshot: Snapshot, breakdown: Breakdown) -> Document:
    """The charts over the tests that count on the snapshot's day, and what the tests say in words."""
    yields = CutSheet(snapshot.kitchen, snapshot.costing).yields(breakdown)
    tests = yields.counting
    named = [*((output.name, statistics_of(output.cut, tests)) for output in breakdown.outputs),
             (UNACCOUNTED, statistics_of_unaccounted(tests))]
    known = [(name, one) for name, one in named if one is not None]
    told = readings(breakdown, tests, [one for _, one in known])
    return {
        "basis": yields.basis, "tests": [_test(test) for test in tests],
        "not_counting": len(yields.not_chosen) + len(yields.set_aside_by_itself),
        "reading": [{"code": said.code, "text": said.text} for said in told],
        "charts": [_chart(name, one) for name, one in known], "first": _most_telling([one for _, one in known])}


def _test(test: YieldTest) -> Document:
    return {"day": test.tested_on.isoformat(), "test": test.id, "butcher": test.butcher}


def _chart(name: str, statistics: YieldStatistics) -> Document:
    chart, interval = statistics.chart, statistics.interval
    return {
        "name": name, "yield": _percent(statistics.ratio),
        "interval": None if interval is None else [_percent(bound) for bound in interval],
        "centre": _percent(chart.centre), "lower": _percent(chart.lower_limit), "upper": _percent(chart.upper_limit),
        "points": _points(chart), "in_words": _in_words(name, chart)}


def _points(chart: ControlChart) -> list[Document]:
    places = {point.test.id: place for place, point in enumerate(chart.points)}
    runs = [range(places[fired.first.test.id], places[fired.point.test.id] + 1)
            for fired in chart.rules if fired.rule == EIGHT]
    return [{"percent": _percent(point.ratio), "mark": IS_OUTSIDE if point.outside else
             IN_A_RUN if any(place in run for run in runs) else ""} for place, point in enumerate(chart.points)]


def _in_words(name: str, chart: ControlChart) -> str:
    if chart.lower_limit is None:
        return f"{name}: one test, {_percent(chart.centre)} % of the input; limits need two."
    outside = sum(point.outside for point in chart.points)
    stands_out = f"{outside} outside them" if outside else "none outside them"
    run = ", eight running on one side of the centre" if any(fired.rule == EIGHT for fired in chart.rules) else ""
    return (f"{name}: {len(chart.points)} tests about {_percent(chart.centre)} % of the input, limits "
            f"{_percent(chart.lower_limit)} % and {_percent(chart.upper_limit)} %, {stands_out}{run}.")


def _most_telling(statistics: Sequence[YieldStatistics]) -> int:
    """The first on which a rule fired; else the first."""
    return next((place for place, one in enumerate(statistics) if one.chart.rules), 0)


def _percent(share: Fraction | None) -> str | None:
    return None if share is None else percent_in_words(share * 100)
