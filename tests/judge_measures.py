"""The judge's own units, conversions and rounding: no code shared with the service.

Source:  unit factors from NIST SP 811 and Handbook 44, and the imperial gallon of the Weights and Measures Act 1985.
"""

from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise, permutations
from math import floor
from typing import Any

UNITS: dict[str, tuple[str, Fraction]] = {name: (base, Fraction(factor)) for base, name, factor in (
    ("kg", "kg", "1"), ("kg", "g", "0.001"), ("kg", "lb", "0.45359237"), ("kg", "oz", "0.028349523125"),
    ("l", "l", "1"), ("l", "ml", "0.001"), ("l", "us_gallon", "3.785411784"), ("l", "us_cup", "0.2365882365"),
    ("l", "us_fl_oz", "0.0295735295625"), ("l", "us_tsp", "0.00492892159375"), ("l", "imp_pint", "0.56826125"),
    ("l", "imp_fl_oz", "0.0284130625"), ("l", "metric_cup", "0.25"), ("each", "each", "1"), ("each", "dozen", "12"),
)}


def half_up(value: Fraction | None, places: int) -> str | None:
    """Half away from zero, all decimals shown, no minus zero."""
    if value is None:
        return None
    units = floor(abs(value) * 10**places + Fraction(1, 2))
    whole, part = divmod(units, 10**places)
    sign = "-" if value < 0 and units else ""
    return f"{sign}{whole}.{part:0{places}d}" if places else f"{sign}{whole}"


def converted(quantity: Fraction, unit: str, to_unit: str, conversions: Iterable[Any]) -> Fraction | None:
    """By every path over kg, l and each there could be; None when there is none."""
    bridges: dict[tuple[str, str], Fraction] = {}
    for conversion in conversions:
        (here, factor), (there, to_factor) = UNITS[conversion.unit], UNITS[conversion.to_unit]
        ratio = Fraction(conversion.to_quantity) * to_factor / (Fraction(conversion.quantity) * factor)
        bridges[here, there], bridges[there, here] = ratio, 1 / ratio
    (start, factor), (goal, to_factor) = UNITS[unit], UNITS[to_unit]
    others = [base for base in ("kg", "l", "each") if base not in (start, goal)]
    between = [()] if start == goal else [path for n in range(len(others) + 1) for path in permutations(others, n)]
    for path in between:
        steps = list(pairwise((start, *path, goal))) if start != goal else []
        if all(step in bridges for step in steps):
            for step in steps:
                quantity *= bridges[step]
            return quantity * factor / to_factor
    return None
