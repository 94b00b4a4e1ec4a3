"""Read the theoretical food cost of a period: what its sales should have cost, as known at a revision.

It is a function of the revision that moved a figure last and of the one that recorded sales of the period last; the
later of the two says it all again under `known_at`. The last few are kept, so that both forms of an answer come from
one computation.
"""

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from service.domain.history import Mark
from service.domain.kitchen import Kitchen
from service.domain.theoretical_food_cost import TheoreticalFoodCost, theoretical_food_cost
from service.use_cases.ports import Ledger
from service.use_cases.snapshots import Position

KEPT = 4


@dataclass(frozen=True, slots=True)
class Period:
    """What is asked for: the days, the position of the figures, and which sales stand for the days that have some."""

    first: date
    last: date
    position: Position
    recorded: Mapping[date, Mark]

    @property
    def sales_revision(self) -> int:
        """The revision that recorded sales of the period last; 0: none did."""
        return max((mark.revision for mark in self.recorded.values()), default=0)

    @property
    def revision(self) -> int:
        """The revision as known at which the same is found again."""
        return max(self.position.revision, self.sales_revision)


class KeptFoodCosts:
    """The periods costed last, of one worker. One is costed at a time; what is kept is had without waiting."""

    def __init__(self) -> None:
        self._kept: dict[tuple[date, date, Position, int], TheoreticalFoodCost] = {}
        self._lock = threading.Lock()

    def of(self, ledger: Ledger, kitchen: Kitchen, period: Period) -> TheoreticalFoodCost:
        """What the sales of a period should have cost; `kitchen` is that of its position."""
        asked = (period.first, period.last, period.position, period.sales_revision)
        found = self._kept.get(asked)
        if found is not None:
            return found
        with self._lock:
            found = self._kept.get(asked)
            if found is None:
                sales = ledger.sales.days(period.first, period.last, period.revision)
                found = self._kept[asked] = theoretical_food_cost(kitchen, sales)
            while len(self._kept) > KEPT:
                del self._kept[next(iter(self._kept))]
            return found


def period_asked(ledger: Ledger, first: date, last: date, position: Position, known_at: int) -> Period:
    """The period as known at a revision, which `position` gives the figures of."""
    return Period(first, last, position, ledger.sales.recorded(first, last, known_at))
