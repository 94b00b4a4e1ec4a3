"""Student's t: the bound of a 95 % interval, for a whole number of degrees of freedom, to 50 digits.

The probability that |t| stays below a bound is a finite sum of powers of sine and cosine at theta = atan(t / sqrt(v)),
so that the bound can be had from decimals alone, to as many digits as are asked for.

Source:  Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.3 (odd v) and 26.7.4 (even v).
"""

from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from fractions import Fraction
from functools import lru_cache

from service.domain.rounding import to_fifty_digits

_COVERED = Decimal("0.95")
_PRECISION = 80
_CLOSE = Decimal("1e-65")


@lru_cache(maxsize=1024)
def t_of_95_percent(degrees_of_freedom: int) -> Decimal:
    """The bound that |t| stays below with probability 0.95, correctly rounded to 50 digits.

    Raises:  ValueError below one degree of freedom.
    Example: 12.706 for 1, 4.303 for 2, 2.571 for 5; towards 1.960.
    """
    if degrees_of_freedom < 1:
        raise ValueError(f"Student's t has no bound at {degrees_of_freedom} degrees of freedom")
    with localcontext(Context(prec=_PRECISION, rounding=ROUND_HALF_EVEN)):
        sine, cosine = _sine_and_cosine(_angle(degrees_of_freedom))
        bound = Decimal(degrees_of_freedom).sqrt() * sine / cosine
    return to_fifty_digits(Fraction(bound))


def _angle(degrees_of_freedom: int) -> Decimal:
    """Newton from zero: the probability is concave in theta, so that no step passes the answer."""
    theta = Decimal(0)
    while True:
        probability, slope = _probability(degrees_of_freedom, theta)
        step = (_COVERED - probability) / slope
        theta += step
        if abs(step) < _CLOSE:
            return theta


def _probability(degrees_of_freedom: int, theta: Decimal) -> tuple[Decimal, Decimal]:
    """P(|t| < sqrt(v) tan theta), and its slope in theta.

    Even v starts from sin theta (v = 2), odd v from 2 theta / pi (v = 1); each two degrees more add one term, and the
    slope's factor grows with them: slope = factor x cos(theta) ** (v - 1).
    """
    sine, cosine = _sine_and_cosine(theta)
    odd = degrees_of_freedom % 2 == 1
    slope = 2 / _pi() if odd else cosine
    total = slope * theta if odd else sine
    for degrees in range(1 if odd else 2, degrees_of_freedom, 2):
        total += slope * cosine * sine / degrees
        slope *= cosine * cosine * (degrees + 1) / degrees
    return total, slope


def _sine_and_cosine(angle: Decimal) -> tuple[Decimal, Decimal]:
    """Both Taylor series at once, term by term, until the terms vanish at the working precision."""
    sums = [Decimal(1), Decimal(0)]
    term, power = Decimal(1), 0
    while abs(term) > Decimal(10) ** -(_PRECISION + 2):
        power += 1
        term = term * angle / power
        sums[power % 2] += -term if power % 4 in (2, 3) else term
    return sums[1], sums[0]


@lru_cache(maxsize=1)
def _pi() -> Decimal:
    """Machin: pi / 4 = 4 atan(1/5) - atan(1/239). Once, at the one precision that is worked with."""
    return 4 * (4 * _arc_tangent_of_one_over(5) - _arc_tangent_of_one_over(239))


def _arc_tangent_of_one_over(whole: int) -> Decimal:
    power = Decimal(1) / whole
    total, odd = power, 1
    while abs(power) > Decimal(10) ** -(_PRECISION + 2):
        power /= -whole * whole
        odd += 2
        total += power / odd
    return total
