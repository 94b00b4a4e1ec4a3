"""How sure a sum of independent estimates is, and how many more tests of one of them would make it sure enough.

    variance V              the sum of the parts' variances
    degrees of freedom      V^2 / sum(variance^2 / (tests - 1)), rounded down (Welch and Satterthwaite)
    half of the interval    t x sqrt(V), Student's t of 95 % at those degrees of freedom
    with m tests of a part  its variance is that of now x tests now / m: each test as uncertain as now

Rules that always hold: exact (comparisons are of squares in whole numbers, with Student's t to 50 digits); the number
of tests is the least with which it holds. More tests can also widen an interval for a while: where the part that
remains rests on very few tests, its bound is wide, and more tests of another part make that one weigh more. So the
least is looked for from below, and what is passed over is shown not to hold.

Source:  JCGM 100 (GUM), G.4.1 and formula G.2b.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm

from service.domain.exact_sums import exact_sum
from service.domain.student_t import t_of_95_percent

MOST_TESTS = 1000
"""Beyond this many tests of one breakdown it is said that so many would not do."""

_NORMAL_BOUND = Fraction("1.95996398454005423552")
"""Below Student's t at any number of degrees of freedom: the normal bound, cut off."""
_NORMAL_FROM = 200


@dataclass(frozen=True, slots=True)
class Part:
    """One independent part: its variance in the sum, over how many tests (at least two)."""

    variance: Fraction
    tests: int


def variance_of(parts: Iterable[Part]) -> Fraction:
    return exact_sum(part.variance for part in parts)


def effective_degrees(variances: Iterable[tuple[Fraction, Fraction | int]]) -> Fraction | None:
    """The effective degrees of freedom of a sum, from each part's variance and degrees of freedom; None where nothing
    varies.

    Example: standard uncertainties of 25 (18), 9.7 (25.6), 2.9 (50) and 16.6 (2) have 16.76 (JCGM 100, H.1.6: 16.7).
    """
    pairs = list(variances)
    whole = lcm(*(variance.denominator for variance, _ in pairs))
    scaled = [(variance.numerator * (whole // variance.denominator), degrees) for variance, degrees in pairs]
    fourth_powers = exact_sum(Fraction(variance**2) / degrees for variance, degrees in scaled)
    return sum(variance for variance, _ in scaled) ** 2 / fourth_powers if fourth_powers else None


def degrees_of_freedom(parts: Iterable[Part]) -> int | None:
    """Of the sum, rounded down to a whole number, at least 1; None where nothing varies."""
    degrees = effective_degrees((part.variance, part.tests - 1) for part in parts)
    return None if degrees is None else int(degrees)


def half_width_squared(parts: Sequence[Part]) -> Fraction:
    """The square of half the 95 % interval: t^2 x V; nil where nothing varies."""
    degrees = degrees_of_freedom(parts)
    return Fraction(0) if degrees is None else _squared(degrees) * variance_of(parts)


def more_tests(main: Part, others: Sequence[Part], reach: Fraction, most: int = MOST_TESTS) -> int | None:
    """The least number of further tests of `main` with which half the interval is at most `reach`; nil: it is now.

    Shape:   None where no number up to `most` tests in all does it.
    """
    if not main.variance:
        return 0 if half_width_squared(others) <= reach**2 else None
    search = _search(main, others, reach)
    count = main.tests
    while count <= most:
        if search.holds(count):
            return count - main.tests
        fewest = search.fewest_beyond(count)
        if fewest is None:
            return None
        count = max(count + 1, fewest)
    return None


@dataclass(frozen=True, slots=True)
class _Search:
    """The question in whole numbers, all over one denominator that drops out.

    Shape:   `left` is the variance of the others, `all_tests` that of main x its tests, `wanted` the square of the
             reach; `fourth_powers / of` is sum(variance^2 / degrees) of the others.
    """

    left: int
    all_tests: int
    wanted: int
    fourth_powers: int
    of: int

    def holds(self, count: int) -> bool:
        """Whether half the interval is short enough with so many tests of main in all."""
        variance = self.left * count + self.all_tests
        degrees = variance**2 * self.of * (count - 1) // (
            self.fourth_powers * count**2 * (count - 1) + self.all_tests**2 * self.of)
        square = _squared(degrees)
        return square.numerator * variance <= self.wanted * count * square.denominator

    def fewest_beyond(self, count: int) -> int | None:
        """No number of tests greater than `count` and less than this can do it; None: none at all can.

        Beyond `count` the degrees of freedom are at most (A + a)^2 / C, where A and C are of the others and `a` is what
        main adds at count + 1; so Student's t is at least the one there.
        """
        square = _NORMAL_BOUND**2
        if self.fourth_powers:
            variance = self.left * (count + 1) + self.all_tests
            highest = variance**2 * self.of // (self.fourth_powers * (count + 1) ** 2)
            square = square if highest >= _NORMAL_FROM else _squared(highest)
        room = self.wanted * square.denominator - self.left * square.numerator
        return -(-self.all_tests * square.numerator // room) if room > 0 else None


def _search(main: Part, others: Sequence[Part], reach: Fraction) -> _Search:
    wanted = reach**2
    whole = lcm(wanted.denominator, main.variance.denominator, *(part.variance.denominator for part in others))

    def numerator(value: Fraction) -> int:
        return value.numerator * (whole // value.denominator)

    of = lcm(*(part.tests - 1 for part in others))
    left = [(numerator(part.variance), of // (part.tests - 1)) for part in others]
    return _Search(sum(variance for variance, _ in left), numerator(main.variance) * main.tests, numerator(wanted),
                   sum(variance**2 * times for variance, times in left), of)


@lru_cache(maxsize=2048)
def _squared(degrees: int) -> Fraction:
    return Fraction(t_of_95_percent(degrees)) ** 2
