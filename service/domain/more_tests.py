"""How sure a sum of independent estimates is, and how many more tests of one of them would make it sure enough.

    variance V              the sum of the parts' variances
    degrees of freedom      V^2 / sum(variance^2 / (tests - 1)), rounded down (Welch and Satterthwaite)
    half of the interval    t x sqrt(V), Student's t of 95 % at those degrees of freedom
    with m tests of a part  its variance is that of now x tests now / m: each test as uncertain as now

Rules that always hold: exact (comparisons are of squares, with Student's t to 50 digits); the number of tests is the
least with which it holds. More tests can also widen an interval for a while: where the part that remains rests on very
few tests, its bound is wide, and more tests of another part make that one weigh more. So the least is looked for from
below, and what is passed over is shown not to hold.

Source:  JCGM 100 (GUM), G.4.1 and formula G.2b.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from service.domain.student_t import t_of_95_percent

MOST_TESTS = 1000
"""Beyond this many tests of one breakdown it is said that so many would not do."""

NIL = Fraction(0)
_NORMAL_BOUND = Fraction("1.95996398454005423552")
"""Below Student's t at any number of degrees of freedom: the normal bound, cut off."""
_NORMAL_FROM = 200


@dataclass(frozen=True, slots=True)
class Part:
    """One independent part: its variance in the sum, over how many tests (at least two)."""

    variance: Fraction
    tests: int

    def with_tests(self, tests: int) -> "Part":
        """The part as it would be over another number of tests that scatter as these do."""
        return replace(self, variance=self.variance * self.tests / tests, tests=tests)


def variance_of(parts: Sequence[Part]) -> Fraction:
    return sum((part.variance for part in parts), NIL)


def effective_degrees(variances: Iterable[tuple[Fraction, Fraction | int]]) -> Fraction | None:
    """The effective degrees of freedom of a sum, from each part's variance and degrees of freedom; None where nothing
    varies.

    Example: standard uncertainties of 25 (18), 9.7 (25.6), 2.9 (50) and 16.6 (2) have 16.76 (JCGM 100, H.1.6: 16.7).
    """
    pairs = list(variances)
    fourth_powers = sum((variance**2 / degrees for variance, degrees in pairs), NIL)
    return sum((variance for variance, _ in pairs), NIL) ** 2 / fourth_powers if fourth_powers else None


def degrees_of_freedom(parts: Sequence[Part]) -> int | None:
    """Of the sum, rounded down to a whole number, at least 1; None where nothing varies."""
    degrees = effective_degrees((part.variance, part.tests - 1) for part in parts)
    return None if degrees is None else int(degrees)


def half_width_squared(parts: Sequence[Part]) -> Fraction:
    """The square of half the 95 % interval: t^2 x V; nil where nothing varies."""
    degrees = degrees_of_freedom(parts)
    return NIL if degrees is None else _squared(degrees) * variance_of(parts)


def more_tests(main: Part, others: Sequence[Part], reach: Fraction, most: int = MOST_TESTS) -> int | None:
    """The least number of further tests of `main` with which half the interval is at most `reach`; nil: it is now.

    Shape:   None where no number up to `most` tests in all does it.
    """
    wanted = reach**2
    count = main.tests
    while count <= most:
        if half_width_squared([main.with_tests(count), *others]) <= wanted:
            return count - main.tests
        fewest = _fewest_beyond(count, main, others, wanted)
        if fewest is None:
            return None
        count = max(count + 1, fewest)
    return None


def _fewest_beyond(count: int, main: Part, others: Sequence[Part], wanted: Fraction) -> int | None:
    """No number of tests greater than `count` and less than this can do it; None: none at all can.

    Beyond `count` the degrees of freedom are at most (A + a)^2 / C, where A and C are of the others and `a` is what
    `main` adds at count + 1; so Student's t is at least the one there.
    """
    left = variance_of(others)
    of_others = effective_degrees((part.variance, part.tests - 1) for part in others)
    bound = _NORMAL_BOUND**2
    if of_others is not None:
        highest = of_others * (1 + main.with_tests(count + 1).variance / left) ** 2
        bound = bound if highest >= _NORMAL_FROM else _squared(int(highest))
    room = wanted / bound - left
    if room <= 0:
        return None
    return ceil(main.variance * main.tests / room)


def _squared(degrees: int) -> Fraction:
    return Fraction(t_of_95_percent(degrees)) ** 2
