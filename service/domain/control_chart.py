"""Individuals control charts: which tests stand out from the others, and by which rule.

    limits              mean +/- 2.66 x mean moving range (of neighbours, in order of test date)
    outside_limits      a point above the upper limit, or below the lower one
    eight_on_one_side   eight points running above the centre, or below it; it fires at the eighth and once a run, so
                        it cannot speak before eight tests. A point on the centre ends a run.

Rules that always hold: means, limits and comparisons are exact; one test has no limits.

Source:  NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, with its 2.66 = 3 / 1.128; the rule of eight on one
         side of the centre is one of the Western Electric rules, 6.3.2.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from service.domain.yield_test import YieldTest

LIMITS_FACTOR = Fraction("2.66")
NIL = Fraction(0)
OUTSIDE, EIGHT = "outside_limits", "eight_on_one_side"
ABOVE, BELOW = "above", "below"
RUN = 8


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One test's own yield of the output. `outside`: beyond the limits, so that somebody should look."""

    test: YieldTest
    ratio: Fraction
    outside: bool


@dataclass(frozen=True, slots=True)
class RuleFired:
    """A rule, the point at which it fired, the side on which, and the first point that it rests on."""

    rule: str
    point: ChartPoint
    side: str
    first: ChartPoint


@dataclass(frozen=True, slots=True)
class ControlChart:
    """An individuals chart: limits at the mean +/- 2.66 x the mean moving range. No limits with one test."""

    centre: Fraction
    mean_moving_range: Fraction | None
    lower_limit: Fraction | None
    upper_limit: Fraction | None
    points: tuple[ChartPoint, ...]

    @property
    def rules(self) -> tuple[RuleFired, ...]:
        """The rules that fired, in order of the points at which they did."""
        places = {point.test.id: place for place, point in enumerate(self.points)}
        fired = [*self._outside(), *self._eight_on_one_side()]
        return tuple(sorted(fired, key=lambda one: (places[one.point.test.id], one.rule == EIGHT)))

    def _outside(self) -> Iterator[RuleFired]:
        for point in self.points:
            if point.outside:
                yield RuleFired(OUTSIDE, point, ABOVE if point.ratio > self.centre else BELOW, point)

    def _eight_on_one_side(self) -> Iterator[RuleFired]:
        for side, run in groupby(self.points, key=self._side):
            points = list(run)
            if side is not None and len(points) >= RUN:
                yield RuleFired(EIGHT, points[RUN - 1], side, points[0])

    def _side(self, point: ChartPoint) -> str | None:
        if point.ratio == self.centre:
            return None
        return ABOVE if point.ratio > self.centre else BELOW


def control_chart(measured: Sequence[tuple[YieldTest, Fraction]]) -> ControlChart:
    """The chart of what one or more tests measured, given in order of test date."""
    ratios = [ratio for _, ratio in measured]
    lower, upper, moving_range = individuals_limits(ratios) or (None, None, None)
    points = tuple(ChartPoint(test, ratio, is_outside(ratio, lower, upper)) for test, ratio in measured)
    return ControlChart(sum(ratios, NIL) / len(ratios), moving_range, lower, upper, points)


def individuals_limits(values: Sequence[Fraction]) -> tuple[Fraction, Fraction, Fraction] | None:
    """Lower limit, upper limit and mean moving range of an individuals chart. None for one value."""
    if len(values) < 2:
        return None
    mean = sum(values, NIL) / len(values)
    moving_range = sum((abs(later - earlier) for earlier, later in pairwise(values)), NIL) / (len(values) - 1)
    return mean - LIMITS_FACTOR * moving_range, mean + LIMITS_FACTOR * moving_range, moving_range


def is_outside(ratio: Fraction, lower: Fraction | None, upper: Fraction | None) -> bool:
    """Whether it lies beyond the limits, if there are any; on a limit is within."""
    return lower is not None and upper is not None and not lower <= ratio <= upper
