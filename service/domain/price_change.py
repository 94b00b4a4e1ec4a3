"""A new price held against the one in force and against its own history: unchanged, far off, or a likely slip.

    far off       more than a limit (25 % unless set) from the price in force, or more than so many (3 unless
                  set) median absolute deviations from the median of the last year's prices
    likely slip   a tenth or ten times the price in force, a hundredth or a hundred times; a price per pack entered as
                  one per unit, or the other way round; a decimal comma read as a thousands mark

A slip is only looked for in a price that is far off. Comparisons are exact.

Source:  the median absolute deviation as in the NIST/SEMATECH e-Handbook of Statistical Methods, Measures of Scale; the
         limits are common practice, with no source, and are settings.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from service.domain.kitchen_settings import KitchenSettings
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.rounding import published
from service.domain.row_finding import RowFinding, asks

FEWEST_FOR_A_SPREAD = 5
"""Fewer prices than that in a year say nothing about how much a price moves."""

TIMES = (Fraction(10), Fraction(100))


class Spread(NamedTuple):
    """The median of prices, and the median of their distances from it."""

    median: Fraction
    deviation: Fraction


def spread_of(prices: Sequence[Fraction]) -> Spread | None:
    """Median and median absolute deviation; None for fewer than five prices, or where most of them are the same.

    Example: of 1, 1, 2, 2, 4, 6, 9 the median is 2 and the deviation 1.
    """
    if len(prices) < FEWEST_FOR_A_SPREAD:
        return None
    median = _median(prices)
    deviation = _median([abs(price - median) for price in prices])
    return Spread(median, deviation) if deviation else None


def far_from(new: Fraction, old: Fraction, limit_percent: Decimal) -> bool:
    """Whether a price is more than the limit from another; anything is far from nothing."""
    return abs(new - old) * 100 > Fraction(limit_percent) * old


def outside_history(new: Fraction, old: Fraction, spread: Spread | None, settings: KitchenSettings
                    ) -> RowFinding | None:
    """Whether a price is outside its history, by percentage or by deviations.

    Units: money per base unit.
    """
    if far_from(new, old, settings.price_change_limit_percent):
        percent = "from nothing" if old == 0 else f"by {percent_in_words((new / old - 1) * 100)} %"
        return asks("outside_history", f"The price moves {percent}, more than {settings.price_change_limit_percent:f} "
                                       f"%: from {cost_in_words(old)} to {cost_in_words(new)}.")
    if spread is not None and abs(new - spread.median) > Fraction(settings.price_deviation_limit) * spread.deviation:
        return asks("outside_history", f"{cost_in_words(new)} is further from the last year's median "
                                       f"{cost_in_words(spread.median)} than {settings.price_deviation_limit:f} median "
                                       f"absolute deviations of {cost_in_words(spread.deviation)}.")
    return None


def likely_slip(new: Fraction, old: Fraction, packs: Sequence[Fraction], other: Fraction | None,
                settings: KitchenSettings) -> RowFinding | None:
    """What would explain a price that is far off: the slip that, undone, gives the price nearest to the one in force.

    Units: `packs` are base units in a pack; `other` is what the same text gives with its point or comma read the other
           way, in money per base unit.
    """
    limit = Fraction(settings.price_change_limit_percent) / 100
    least, most = old * (1 - limit), old * (1 + limit)
    slips = [] if other is None or not least <= other <= most else [
        (other, "Check the decimal mark: read the other way")]
    if new:
        least, most = least / new, most / new
        slips += [(new * factor, said) for factor, said in _slips(packs) if least <= factor <= most]
    if not slips:
        return None
    meant, said = min(slips, key=lambda slip: abs(slip[0] - old))
    return asks("likely_slip", f"{said} it is {cost_in_words(meant)}, close to {cost_in_words(old)} in force.")


def _slips(packs: Sequence[Fraction]) -> Iterator[tuple[Fraction, str]]:
    """By what a price is to be multiplied to undo each slip, and the mend. Of two that give the same price the first
    is told."""
    for pack in packs:
        if pack != 1:
            yield 1 / pack, f"Check what it is priced by: as the price of a pack of {_plain(pack)},"
            yield pack, "Check what it is priced by: as the price of one unit,"
    yield from _POINTS


def _median(values: Sequence[Fraction]) -> Fraction:
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2


def _plain(value: Fraction) -> str:
    """A quantity in a sentence: to the millionth, since a third of a kilogram has no end."""
    return f"{published(value, 6).normalize():f}"


_POINTS = tuple(point for times in TIMES for point in (
    (1 / times, f"Check where the point stands: divided by {_plain(times)}"),
    (times, f"Check where the point stands: times {_plain(times)}")))
