"""Sums of many exact figures, quickly; and sums, differences and products of figures that may not be known.

Adding fractions one by one reduces at every step; figures of one menu share few denominators, so their numerators are
added up per denominator, and what is left is brought to the common one and reduced once.
"""

from collections.abc import Iterable
from fractions import Fraction
from math import lcm


def exact_sum(values: Iterable[Fraction]) -> Fraction:
    """The sum, whatever the order.

    Exact:   equal to adding one after another.
    """
    numerators: dict[int, int] = {}
    for value in values:
        above, below = value.as_integer_ratio()
        numerators[below] = numerators.get(below, 0) + above
    common = lcm(*numerators)
    return Fraction(sum(above * (common // below) for below, above in numerators.items()), common)


def worth(quantity: Fraction | None, each: Fraction | None) -> Fraction | None:
    """So much of something at so much each; nothing is worth nothing, whatever a unit of it costs."""
    if quantity is None or (quantity and each is None):
        return None
    return quantity * (each or 0)


def added(*parts: Fraction | None) -> Fraction | None:
    """The sum; None while one of them is not known."""
    return None if None in parts else exact_sum(part for part in parts if part is not None)


def less(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    """The difference; None while either is not known."""
    return None if one is None or other is None else one - other


def times(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    """The product; None while either is not known."""
    return None if one is None or other is None else one * other
