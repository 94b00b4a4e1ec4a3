"""What many yield tests say about each output, and about what is unaccounted for: how sure the yield is, whether it
moves, and which tests stand out.

Rules that always hold: ratios and means are exact; a standard error is correctly rounded to 50 digits before an
interval is made of it; one test has a yield, and neither a standard error, nor an interval, nor limits.

Source:  the ratio estimator and its standard error, as in W. G. Cochran, Sampling Techniques, chapter 6 (without the
         correction for a finite population).
"""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.control_chart import ControlChart, control_chart
from service.domain.least_squares import Line, line_through
from service.domain.rounding import square_root
from service.domain.student_t import t_of_95_percent
from service.domain.yield_test import YieldTest
from service.domain.yields import WeighedTest, weighed

NIL = Fraction(0)
TREND_DAYS = 30


@dataclass(frozen=True, slots=True)
class YieldStatistics:
    """What the tests that count say about one output; `cut` None: about several, or what is unaccounted for.

    Units:   everything is a fraction of the input's weight.
    Exact:   `standard_error` is correctly rounded to 50 digits, and `interval` (low, high) made of it.
    """

    cut: str | None
    tests: int
    ratio: Fraction
    standard_error: Fraction | None
    interval: tuple[Fraction, Fraction] | None
    chart: ControlChart

    @property
    def trend(self) -> Line | None:
        """The line through the tests' own yields by their days; None below three tests, or with all on one day.

        Units:   the slope is a fraction of the input's weight in 30 days.
        """
        points = self.chart.points
        return line_through([(Fraction((point.test.tested_on - points[0].test.tested_on).days, TREND_DAYS), point.ratio)
                             for point in points])


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
    return _statistics(cut, tests, lambda test: test.outputs[cut])


def statistics_of_together(cuts: Collection[str], tests: Iterable[YieldTest]) -> YieldStatistics | None:
    """The same of several outputs taken together, as of all that carries the cost."""
    return _statistics(None, tests, lambda test: _sum(test.outputs[cut] for cut in cuts))


def statistics_of_unaccounted(tests: Iterable[YieldTest]) -> YieldStatistics | None:
    """The same of what is unaccounted for: what was paid for and is in no output."""
    return _statistics(None, tests, lambda test: test.paid_for - _sum(test.outputs.values()))


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


def _statistics(cut: str | None, tests: Iterable[YieldTest], weight: Callable[[WeighedTest], Fraction]
                ) -> YieldStatistics | None:
    tested = [weighed(test) for test in tests]
    if not tested:
        return None
    pairs = [(test.paid_for, weight(test)) for test in tested]
    ratio = _sum(y for _, y in pairs) / _sum(x for x, _ in pairs)
    error = standard_error(pairs)
    chart = control_chart([(test.test, y / x) for test, (x, y) in zip(tested, pairs, strict=True)])
    return YieldStatistics(cut, len(tested), ratio, error, _interval(ratio, error, len(tested)), chart)


def _interval(ratio: Fraction, error: Fraction | None, count: int) -> tuple[Fraction, Fraction] | None:
    if error is None:
        return None
    reach = Fraction(t_of_95_percent(count - 1)) * error
    return ratio - reach, ratio + reach


def _sum(values: Iterable[Fraction]) -> Fraction:
    return sum(values, NIL)
