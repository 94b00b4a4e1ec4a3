"""The unit prices of all ingredients of a network: as floats for the sweep, exactly for what the sweep cannot settle.

Rules that always hold: no price is NaN, never nil; every float is correctly rounded from the exact price.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from service.domain.denominators import CAP, Floats, Whole, denominators_of, floats_of, shared
from service.domain.float_range import PRICE_EXPONENT
from service.domain.network import NIL

CENTS = 100


@dataclass(frozen=True)
class UnitPrices:
    """The unit prices of a network's ingredients, in the order in which they stand in it.

    Shape:   `values` are floats, NaN for no price; `denominators` are those of the exact prices or multiples of them;
             `exact` gives one exactly.
    """

    values: Floats
    denominators: Whole
    exact: Callable[[int], Fraction]

    @classmethod
    def of(cls, prices: Sequence[Fraction | None]) -> "UnitPrices":
        """From exact prices, None for unknown. Money is taken to come in hundredths, so that a new price seldom needs
        new denominators."""
        known = [NIL if price is None else price for price in prices]
        values = floats_of(known)
        values[[price is None for price in prices]] = np.nan
        return cls(values, shared(denominators_of(known), np.full(len(known), CENTS)), known.__getitem__)

    def with_prices(self, moved: Mapping[int, Fraction | None]) -> "UnitPrices":
        """These prices with others, exact or unknown, in some places."""
        if not moved:
            return self
        at = list(moved)
        others = UnitPrices.of(list(moved.values()))
        values, denominators = self.values.copy(), self.denominators.copy()
        values[at], denominators[at] = others.values, others.denominators
        known = {place: NIL if price is None else price for place, price in moved.items()}
        below = self.exact
        if isinstance(below, _Moved):
            known, below = {**below.moved, **known}, below.below
        return UnitPrices(values, denominators, _Moved(known, below))

    @classmethod
    def scaled(cls, amounts: Whole, per: Whole) -> "UnitPrices":
        """From whole amounts, each over its `per` (both below 2**52, so that the float is correctly rounded)."""
        if amounts.size and max(int(amounts.max()), -int(amounts.min()), int(per.max())) > CAP:
            return cls.of([Fraction(int(amount), int(pack)) for amount, pack in zip(amounts, per, strict=True)])
        return cls(amounts / per, per, lambda at: Fraction(int(amounts[at]), int(per[at])))

    def in_range(self) -> bool:
        """Whether every price is nil or of a magnitude that the compiled range allows for."""
        lowest, highest = 2.0 ** -(PRICE_EXPONENT - 1), 2.0 ** (PRICE_EXPONENT - 1)
        return not bool(((self.values < lowest) & (self.values != 0) | (self.values > highest)).any())


@dataclass(frozen=True)
class _Moved:
    """Exact prices, some of them others than below."""

    moved: Mapping[int, Fraction]
    below: Callable[[int], Fraction]

    def __call__(self, at: int) -> Fraction:
        found = self.moved.get(at)
        return self.below(at) if found is None else found


def covers(covered: Whole, denominators: Whole) -> bool:
    """Whether each of the denominators divides the one that is covered already."""
    divides = (covered > 0) & (denominators > 0) & (covered % np.maximum(denominators, 1) == 0)
    return bool((divides | (covered == denominators)).all())


def widened(covered: Whole, denominators: Whole) -> Whole:
    """Denominators that cover both, while they stay of use; else the new ones."""
    both = shared(covered, denominators)
    return np.where((both > 0) & (both <= CENTS**3), both, denominators)
