"""Capped denominators: for every figure of a menu a whole number that the denominator of its exact value divides.

Two fractions that differ, differ by at least 1 over the least common multiple of their denominators. So a float that
is known to lie nearer than that to a rounding tie *is* the tie, and nothing else needs to be computed.

Rules that always hold: a denominator is a positive 64-bit integer of at most `CAP`, or `BEYOND` (nothing is known of
it); a figure that is nil, or lacks some of its parts, is covered by the denominator of the whole.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import copysign, inf

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]
Floats = NDArray[np.float64]

CAP = 2**52
BEYOND = 0
LEAST = 5e-324


def shared(left: Whole, right: Whole) -> Whole:
    """The least common multiple, elementwise; BEYOND where it passes the cap or either is BEYOND."""
    common = np.maximum(np.gcd(left, right), 1)
    return _times(left // common, right)


def of_product(numerator: Whole, denominator: Whole, below: Whole) -> Whole:
    """What the denominator of (numerator / denominator) x value divides, where that of the value divides `below`."""
    common = np.maximum(np.gcd(numerator, below), 1)
    return _times(below // common, denominator)


def _times(left: Whole, right: Whole) -> Whole:
    fits = left <= CAP // np.maximum(right, 1)
    return np.where(fits, left * right, BEYOND)


def of_sums(own: Whole, terms: Whole, starts: Whole, lengths: Whole) -> Whole:
    """The common denominator of each row: its own constant, and the terms `starts[row]` to `+ lengths[row]`."""
    total = own.copy()
    for place in range(int(lengths.max(initial=0))):
        rows = np.flatnonzero(lengths > place)
        total[rows] = shared(total[rows], terms[starts[rows] + place])
    return total


def numerators_of(fractions: Sequence[Fraction]) -> Whole:
    """Numerators, for cancelling only: 1 stands for one that is too large, which cancels nothing."""
    return np.array([abs(f.numerator) if abs(f.numerator) <= CAP else 1 for f in fractions], dtype=np.int64)


def denominators_of(fractions: Sequence[Fraction]) -> Whole:
    """Denominators, BEYOND for those above the cap."""
    return np.array([f.denominator if f.denominator <= CAP else BEYOND for f in fractions], dtype=np.int64)


def floats_of(fractions: Sequence[Fraction]) -> Floats:
    """Each fraction as its `nearest_float`."""
    return np.array([nearest_float(f) for f in fractions], dtype=np.float64)


def nearest_float(value: Fraction) -> float:
    """The float nearest to `value` (integer division is correctly rounded). What is too small for a float becomes the
    least one, never nil, and what is too large infinity: both are out of the range in which floats are believed."""
    try:
        nearest = value.numerator / value.denominator
    except OverflowError:
        return inf if value > 0 else -inf
    return nearest if nearest or not value else copysign(LEAST, value)
