"""The rules of the individuals chart: which points fire, when, and on which side. The handbook's own chart is held in
the worked sheets; here the rules are held against their definition, looked up point by point."""

from datetime import timedelta
from fractions import Fraction
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.control_chart import ControlChart, control_chart
from service.domain.history import Mark
from tests.builders import NEW_YEAR, a_yield_test

LOW, HIGH = ["8", "9.5"], ["12", "10.5"]
"""Pairs a good way apart, so that the limits lie wide of them."""


def chart_of(*ratios: Fraction | int | str) -> ControlChart:
    """The chart of tests a day apart, named 1-1, 2-1 ..."""
    return control_chart([(a_yield_test("1", {}, made=Mark(n, 1), tested_on=NEW_YEAR + timedelta(n)), Fraction(ratio))
                          for n, ratio in enumerate(ratios, 1)])


def fired(chart: ControlChart) -> list[tuple[str, str, str]]:
    return [(one.rule, one.point.test.id, one.side) for one in chart.rules]


def test_a_test_above_and_a_test_below_the_limits_fire_where_they_lie() -> None:
    steady = ["10", "10.2"] * 10
    assert fired(chart_of(*steady, "13", *steady)) == [("outside_limits", "21-1", "above")]
    assert fired(chart_of(*steady, "7", *steady)) == [("outside_limits", "21-1", "below")]


def test_eight_on_one_side_fire_at_the_eighth_and_once_a_run() -> None:
    chart = chart_of(*LOW * 5, *HIGH * 5)
    assert fired(chart) == [("eight_on_one_side", "8-1", "below"), ("eight_on_one_side", "18-1", "above")]
    assert [one.first.test.id for one in chart.rules] == ["1-1", "11-1"]


def test_seven_on_one_side_are_not_eight() -> None:
    assert fired(chart_of(*LOW * 3, "8", *HIGH * 3, "12")) == []


def test_a_test_on_the_centre_ends_a_run() -> None:
    chart = chart_of(*LOW * 2, "10", *LOW * 2, *HIGH * 4)
    assert chart.centre == 10
    assert fired(chart) == [("eight_on_one_side", "17-1", "above")]


def test_tests_that_are_all_alike_fire_nothing() -> None:
    assert fired(chart_of(*["10"] * 9)) == []


@settings(max_examples=80)
@given(st.lists(st.integers(0, 4), min_size=1, max_size=24))
def test_the_rules_fire_where_their_definition_says(levels: list[int]) -> None:
    """By definition, in whole numbers: outside is |n x - sum| beyond 2.66 x n x mean moving range; a run fires at its
    eighth point, and not again."""
    count, total = len(levels), sum(levels)
    moving = sum(abs(a - b) for a, b in pairwise(levels))
    above = [count * level - total for level in levels]
    outside = [place for place, off in enumerate(above)
               if count > 1 and abs(off) * 100 * (count - 1) > 266 * moving * count]
    runs = []
    for side in (1, -1):
        length = 0
        for place, off in enumerate(above):
            length = length + 1 if off * side > 0 else 0
            if length == 8:
                runs.append(place)
    said = chart_of(*levels).rules
    names = {(one.rule, int(one.point.test.id.split("-")[0]) - 1) for one in said}
    assert names == {("outside_limits", place) for place in outside} | {("eight_on_one_side", place) for place in runs}
    assert [one.point.test.tested_on for one in said] == sorted(one.point.test.tested_on for one in said)
