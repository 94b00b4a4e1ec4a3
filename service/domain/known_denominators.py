"""The denominators of a channel's figures, worked out for those that are asked for and what stands below them, once.

Only the figures near a rounding tie need theirs, and those are few.

Rules that always hold: what is found holds for the denominators of the prices it was found for, and for all that divide
those; threads that find the same find the same numbers, so that none has to wait for another.
"""

from dataclasses import dataclass

import numpy as np

from service.domain.channel import Channel
from service.domain.denominators import Whole, of_product, of_sums
from service.domain.settle import Mask
from service.domain.shape import Positions
from service.domain.unit_prices import covers, widened


@dataclass(frozen=True)
class _Found:
    of_prices: Whole
    values: Whole
    filled: Mask


class KnownDenominators:
    """The denominators of one channel."""

    def __init__(self, channel: Channel) -> None:
        self._channel = channel
        self._found: _Found | None = None
        self._covered: tuple[Whole, _Found] | None = None

    def of(self, of_prices: Whole, at: Positions) -> Whole:
        """For the nodes at these positions what the denominators of their values divide."""
        found = self._of_prices(of_prices)
        if not found.filled[at].all():
            self._fill(found, at)
        return found.values[at]

    def _of_prices(self, of_prices: Whole) -> _Found:
        """What is found for prices that cover these; the very same array is compared once."""
        known = self._covered
        if known is None or known[0] is not of_prices:
            known = self._covered = (of_prices, self._covering(of_prices))
        return known[1]

    def _covering(self, of_prices: Whole) -> _Found:
        found = self._found
        if found is not None:
            if covers(found.of_prices, of_prices):
                return found
            of_prices = widened(found.of_prices, of_prices)
        values = self._channel.exact.own.copy()
        values[:self._channel.shape.prices] = of_prices
        filled = np.zeros(len(values), dtype=np.bool_)
        filled[:self._channel.shape.prices] = True
        found = self._found = _Found(of_prices, values, filled)
        return found

    def _fill(self, found: _Found, at: Positions) -> None:
        shape, exact = self._channel.shape, self._channel.exact
        for rows in reversed(self._missing(found, at)):
            edges = shape.edges_of(rows)
            terms = of_product(exact.numerators[edges], exact.denominators[edges], found.values[shape.children[edges]])
            lengths = shape.lengths[rows]
            found.values[rows] = of_sums(exact.own[rows], terms, np.cumsum(lengths) - lengths, lengths)
            found.filled[rows] = True

    def _missing(self, found: _Found, at: Positions) -> list[Positions]:
        """What is not known yet of these and of all below them, level by level from above."""
        shape = self._channel.shape
        wanted = np.zeros(len(shape.order), dtype=np.bool_)
        wanted[at] = True
        wanted &= ~found.filled
        missing = []
        for low, high in reversed(shape.bounds):
            rows = low + np.flatnonzero(wanted[low:high])
            if rows.size:
                children = shape.children[shape.edges_of(rows)]
                wanted[children[~found.filled[children]]] = True
                missing.append(rows)
        return missing
