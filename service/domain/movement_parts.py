"""The parts of one dish's movement, taken step by step: shares of prices, rounding, and other.

Rules that always hold, in whole units of the last published decimal: the published cost then, all shares, the rounding
and the other parts are together the published cost now; a step that moves one price alone leaves no rounding.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import chain

from service.domain.network import NIL
from service.domain.rounding import UNIT_COST_PLACES
from service.domain.settle import nearest_whole

LAST_DECIMAL = 10**UNIT_COST_PLACES
Step = list[tuple[str, Fraction]]
"""The prices of one step that count in one dish: ingredient, and weight x change."""


@dataclass(slots=True)
class MovementParts:
    """The parts of one dish's movement so far; the cost after them, exactly and as published."""

    exact: Fraction
    cost: int
    incomplete_since: int | None = None
    shares: dict[str, int] = field(default_factory=dict)
    rounding: int = 0
    other: int = 0

    def take(self, cost: Fraction, steps: Sequence[Step]) -> None:
        """Take the steps that led to an exact cost, and before them what they leave of the way there."""
        self.other += self._move_by(cost - self.exact - sum(amount for _, amount in chain(*steps)))
        self.take_prices(steps)

    def take_prices(self, steps: Sequence[Step]) -> None:
        """Take steps that are all there is."""
        for step in filter(None, steps):
            self._share(step, self._move_by(sum((amount for _, amount in step), NIL)))

    def _move_by(self, amount: Fraction) -> int:
        if not amount:
            return 0
        self.exact += amount
        before, self.cost = self.cost, published_units(self.exact)
        return self.cost - before

    def _share(self, step: Step, difference: int) -> None:
        alone = len(step) == 1
        for ingredient, amount in step:
            share = difference if alone else published_units(amount)
            self.shares[ingredient] = self.shares.get(ingredient, 0) + share
            difference -= share
        self.rounding += difference


def published_units(amount: Fraction) -> int:
    """A cost as it is published, in whole units of its last decimal.

    Example: 4.18975 is 41898.
    """
    return nearest_whole(amount * LAST_DECIMAL)
