"""What many yield tests say about each output: how sure the yield is, and which tests stand out.

Rules that always hold: ratios, means and limits are exact; a standard error is correctly rounded to 50 digits before an
interval is made of it; one test has a yield, and neither a standard error, nor an interval, nor limits.

Source:  the ratio estimator and its standard error, as in W. G. Cochran, Sampling Techniques, chapter 6 (without the
         correction for a finite population); individuals control chart as in NIST/SEMATECH, e-Handbook of Statistical
         Methods, 6.3.2.2, with its 2.66 = 3 / 1.128.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from service.domain.rounding import square_root
from service.domain.student_t import t_of_95_percent
from service.domain.yield_test import YieldTest
from service.domain.yields import WeighedTest, weighed

LIMITS_FACTOR = Fraction("2.66")
NIL = Fraction(0)


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One test's own yield of the output. `outside`: beyond the limits, so that somebody should look."""

    test: YieldTest
    ratio: Fraction
    outside: bool


@dataclass(frozen=True, slots=True)
class ControlChart:
    """An individuals chart: limits at the mean +/- 2.66 x the mean moving range. No limits with one test."""

    centre: Fraction
    mean_moving_range: Fraction | None
    lower_limit: Fraction | None
    upper_limit: Fraction | None
    points: tuple[ChartPoint, ...]


@dataclass(frozen=True, slots=True)
class YieldStatistics:
    """What the tests that count say about one output.

    Units:   everything is a fraction of the input's weight.
    Exact:   `standard_error` is correctly rounded to 50 digits, and `interval` (low, high) made of it.
    """

    cut: str
    tests: int
    ratio: Fraction
    standard_error: Fraction | None
    interval: tuple[Fraction, Fraction] | None
    chart: ControlChart


@dataclass(frozen=True, slots=True)
class Draining:
    """Purge apart from cutting loss, over the tests whose input was weighed again when opened.

    Units:   fractions of the weight paid for in those tests; together they are what was unaccounted for in them.
    """

    tests: int
    purge: Fraction
    cutting_loss: Fraction


def statistics_of(cut: str, tests: Iterable[YieldTest]) -> YieldStatistics | None:
    """The statistics of one output over the tests that count, given in order of test date; None without a test."""
    tested = [weighed(test) for test in tests]
    if not tested:
        return None
    pairs = [(test.paid_for, test.outputs[cut]) for test in tested]
    ratio = _sum(y for _, y in pairs) / _sum(x for x, _ in pairs)
    error = standard_error(pairs)
    return YieldStatistics(cut, len(tested), ratio, error, _interval(ratio, error, len(tested)), _chart(cut, tested))


def draining(tests: Iterable[YieldTest]) -> Draining | None:
    """What drained off before the knife, and what was lost at it; None when no input was weighed again."""
    opened = [(test, test.opened) for test in map(weighed, tests) if test.opened is not None]
    if not opened:
        return None
    paid_for = _sum(test.paid_for for test, _ in opened)
    on_the_block = _sum(weight for _, weight in opened)
    outputs = _sum(weight for test, _ in opened for weight in test.outputs.values())
    return Draining(len(opened), (paid_for - on_the_block) / paid_for, (on_the_block - outputs) / paid_for)


def standard_error(pairs: Sequence[tuple[Fraction, Fraction]]) -> Fraction | None:
    """Of the ratio estimator over (input, output) weights: sqrt(sum((y - r x)^2) / (n (n - 1))) / mean x.

    Exact:   correctly rounded to 50 digits, once: mean x goes under the root. None for one pair.
    """
    count = len(pairs)
    if count < 2:
        return None
    inputs = _sum(x for x, _ in pairs)
    ratio = _sum(y for _, y in pairs) / inputs
    squares = _sum((y - ratio * x) ** 2 for x, y in pairs)
    return Fraction(square_root(squares / (count * (count - 1)) / (inputs / count) ** 2))


def individuals_limits(values: Sequence[Fraction]) -> tuple[Fraction, Fraction, Fraction] | None:
    """Lower limit, upper limit and mean moving range of an individuals chart. None for one value."""
    if len(values) < 2:
        return None
    mean = _sum(values) / len(values)
    moving_range = _sum(abs(later - earlier) for earlier, later in pairwise(values)) / (len(values) - 1)
    return mean - LIMITS_FACTOR * moving_range, mean + LIMITS_FACTOR * moving_range, moving_range


def _interval(ratio: Fraction, error: Fraction | None, count: int) -> tuple[Fraction, Fraction] | None:
    if error is None:
        return None
    reach = Fraction(t_of_95_percent(count - 1)) * error
    return ratio - reach, ratio + reach


def _chart(cut: str, tested: Sequence[WeighedTest]) -> ControlChart:
    ratios = [test.outputs[cut] / test.paid_for for test in tested]
    lower, upper, moving_range = individuals_limits(ratios) or (None, None, None)
    points = tuple(
        ChartPoint(test.test, ratio, _is_outside(ratio, lower, upper))
        for test, ratio in zip(tested, ratios, strict=True))
    return ControlChart(_sum(ratios) / len(ratios), moving_range, lower, upper, points)


def _is_outside(ratio: Fraction, lower: Fraction | None, upper: Fraction | None) -> bool:
    return lower is not None and upper is not None and not lower <= ratio <= upper


def _sum(values: Iterable[Fraction]) -> Fraction:
    return sum(values, NIL)
