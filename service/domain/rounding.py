"""Rounding: exact figures are rounded once, when published, half away from zero as spreadsheets and invoices do.

Rules that always hold: a figure is never a float; a published figure is rounded from the exact one, never from another
published one; square roots are correctly rounded to 50 significant digits before anything is made of them.
"""

from decimal import Decimal
from fractions import Fraction
from math import isqrt

DIGITS = 50
UNIT_COST_PLACES = 4
SHARE_PLACES = 4
PERCENT_PLACES = 2


def published(value: Fraction, places: int) -> Decimal:
    """The figure with exactly `places` decimals, half away from zero. Nothing is ever published as minus zero.

    Exact:   integers throughout, so that a tie is a tie.
    Example: published(Fraction("30.005"), 2) is 30.01; published(Fraction(2), 4) is 2.0000.
    """
    units = (2 * abs(value.numerator) * 10**places + value.denominator) // (2 * value.denominator)
    sign = "-" if value < 0 and units else ""
    return Decimal(f"{sign}{units}E-{places}")


def text(value: Decimal) -> str:
    """The number in plain fixed point, all its decimals kept: never an exponent, never minus zero."""
    return format(value if value else value.copy_abs(), "f")


def rounded_up_to(value: Fraction, step: Fraction) -> Fraction:
    """The least multiple of `step` that is not below `value`.

    Example: rounded_up_to(Fraction("16.7592"), Fraction("0.05")) is 16.80; 16.75 stays 16.75.
    """
    return -(-value // step) * step


def square_root(value: Fraction) -> Decimal:
    """The square root, correctly rounded to 50 significant digits (a rational root that short comes out exact).

    Raises:  ValueError below zero.
    """
    if value < 0:
        raise ValueError(f"{value} has no real square root")
    if value == 0:
        return Decimal(0)
    places = _places_for_fifty_digits(value)
    scaled = value * Fraction(100) ** places
    root = isqrt(scaled.numerator // scaled.denominator)
    if scaled >= (root + Fraction(1, 2)) ** 2:
        root += 1
    return Decimal(f"{root}E{-places}")


def to_fifty_digits(value: Fraction) -> Decimal:
    """The value correctly rounded to 50 significant digits, half away from zero."""
    if value == 0:
        return Decimal(0)
    places = _places_for_fifty_digits(value * value)
    scaled = abs(value) * Fraction(10) ** places
    units = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
    return Decimal(f"{'-' if value < 0 else ''}{units}E{-places}")


def _places_for_fifty_digits(square: Fraction) -> int:
    """The number of decimals at which the root of `square` has 50 digits: 10**49 <= root x 10**places < 10**50.

    The digits of numerator and denominator tell the square within a factor of ten each way, the places within one.
    """
    magnitude = len(str(square.numerator)) - len(str(square.denominator))
    places = DIGITS - magnitude // 2
    return places - 1 if square * Fraction(100) ** places >= Fraction(100) ** DIGITS else places
