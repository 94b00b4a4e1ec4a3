"""Lean that goes into the bin: loss up while trim is down.

    weight on the block  what was opened and drained, where every test weighed that, else what was paid for
    trim                 of a test, the outputs of role trim over the weight on the block
    loss                 of a test, the outputs of role loss, and what is unaccounted for, over the same

The earlier half of the tests is held against the later one; of an odd number, the later half has the one more. It is
said when the mean loss is up and the mean trim is down, each from half to half by more than the tests' own scatter: the
95 % interval of the difference of the halves' means lies on that side of zero. At least four tests.

Source:  the difference of two means with a common variance is the least-squares slope on an indicator of the half;
         NIST/SEMATECH e-Handbook of Statistical Methods, 7.3.1.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Breakdown, Role
from service.domain.least_squares import line_through
from service.domain.yield_test import YieldTest
from service.domain.yields import WeighedTest, weighed

NIL = Fraction(0)
FEWEST = 4


@dataclass(frozen=True, slots=True)
class Half:
    """Half of the tests, in order of test date: mean loss and mean trim, as fractions of the weight on the block."""

    tests: tuple[YieldTest, ...]
    loss: Fraction
    trim: Fraction


@dataclass(frozen=True, slots=True)
class LeanInTheBin:
    """The sign that lean goes into the bin, and between which tests it was seen."""

    earlier: Half
    later: Half


def lean_in_the_bin(breakdown: Breakdown, tests: Sequence[YieldTest]) -> LeanInTheBin | None:
    """The sign, if these tests of the breakdown, given in order of test date, show it."""
    if len(tests) < FEWEST or not any(output.role is Role.TRIM for output in breakdown.outputs):
        return None
    shares = _loss_and_trim(breakdown, [weighed(test) for test in tests])
    first = len(tests) // 2
    earlier, later = _half(tests[:first], shares[:first]), _half(tests[first:], shares[first:])
    up = _rises([loss for loss, _ in shares], first) and _rises([-trim for _, trim in shares], first)
    return LeanInTheBin(earlier, later) if up else None


def _rises(shares: Sequence[Fraction], first: int) -> bool:
    """Whether shares are higher from the place `first` on, by more than their own scatter."""
    line = line_through([(Fraction(place >= first), share) for place, share in enumerate(shares)])
    return line is not None and line.interval[0] > 0


def _loss_and_trim(breakdown: Breakdown, tests: Sequence[WeighedTest]) -> list[tuple[Fraction, Fraction]]:
    """Of each test."""
    all_opened = all(test.opened is not None for test in tests)
    trim = [output.cut for output in breakdown.outputs if output.role is Role.TRIM]
    used = [output.cut for output in breakdown.outputs if output.role is not Role.LOSS]
    blocks = [test.opened if all_opened and test.opened is not None else test.paid_for for test in tests]
    return [(1 - sum((test.outputs[cut] for cut in used), NIL) / block,
             sum((test.outputs[cut] for cut in trim), NIL) / block)
            for test, block in zip(tests, blocks, strict=True)]


def _half(tests: Sequence[YieldTest], shares: Sequence[tuple[Fraction, Fraction]]) -> Half:
    loss, trim = (sum((share[which] for share in shares), NIL) / len(shares) for which in (0, 1))
    return Half(tuple(tests), loss, trim)
