"""Purchase price variance: what a quantity bought cost beyond what it would have cost at the standard price.

    variance = (actual price - standard price) x actual quantity = paid - standard price x actual quantity

Adverse (dearer than standard) is positive, favourable is negative. Rules that always hold: a figure that is not known
is None, and then there is no variance; a total is the sum of exact figures, and None while one of them is not known.

Source:  the material price variance of standard costing, at the time of purchase.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Effect(StrEnum):
    """What a variance does to the result."""

    ADVERSE = "adverse"
    FAVOURABLE = "favourable"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class PurchaseVariance:
    """One purchase, or several together, against the standard.

    Units:   money; None is not known.
    Example: 450 units for 2925 at a standard of 6.90 cost 180 less than standard.
    """

    standard_cost: Fraction | None
    actual_cost: Fraction | None

    @property
    def variance(self) -> Fraction | None:
        """Adverse is positive."""
        if self.standard_cost is None or self.actual_cost is None:
            return None
        return self.actual_cost - self.standard_cost

    @property
    def variance_percent(self) -> Fraction | None:
        """Of the standard cost, as a percent; None where that is nil."""
        variance = self.variance
        return variance / self.standard_cost * 100 if variance is not None and self.standard_cost else None

    @property
    def effect(self) -> Effect | None:
        variance = self.variance
        if variance is None:
            return None
        return Effect.ADVERSE if variance > 0 else Effect.FAVOURABLE if variance < 0 else Effect.NONE


def purchase_variance(quantity: Fraction, standard_price: Fraction | None, paid: Fraction | None) -> PurchaseVariance:
    """Of a quantity in base units, at a standard price per base unit and for what was paid for all of it."""
    return PurchaseVariance(None if standard_price is None else standard_price * quantity, paid)


def total_of(purchases: Sequence[PurchaseVariance]) -> PurchaseVariance:
    """All of them together."""
    return PurchaseVariance(_sum([each.standard_cost for each in purchases]),
                            _sum([each.actual_cost for each in purchases]))


def _sum(figures: Sequence[Fraction | None]) -> Fraction | None:
    known = [figure for figure in figures if figure is not None]
    return sum(known, Fraction(0)) if len(known) == len(figures) else None
