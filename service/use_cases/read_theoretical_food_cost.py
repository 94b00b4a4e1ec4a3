"""Read the theoretical food cost of a period: what its sales should have cost, as known at a revision.

It is a function of the revision that moved a figure last and of the one that recorded sales of the period last; the
later of the two says it all again under `known_at`. The last few are kept, so that both forms of an answer come from
one computation.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from service.domain.history import Mark
from service.domain.kitchen import Kitchen
from service.domain.theoretical_food_cost import TheoreticalFoodCost, theoretical_food_cost
from service.use_cases.ports import Ledger
from service.use_cases.position import Position

KEPT = 12
"""Of figures and answers together: some megabytes at most."""
T = TypeVar("T")


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


class KeptPeriods:
    """What was made of the periods asked for last, of one worker: their figures, and the answers made of those.

    One is made at a time; what is kept is had without waiting.
    """

    def __init__(self) -> None:
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.RLock()

    def of(self, period: Period, what: str, make: Callable[[], T]) -> T:
        """What `make` gives for a period, made once while it is kept."""
        asked = (period.first, period.last, period.position, period.sales_revision, what)
        found: T | None = self._kept.get(asked)
        if found is not None:
            return found
        with self._lock:
            if asked not in self._kept:
                self._kept[asked] = make()
            made: T = self._kept[asked]
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return made


def food_cost_of(ledger: Ledger, kitchen: Kitchen, period: Period) -> TheoreticalFoodCost:
    """What the sales of a period should have cost; `kitchen` is that of its position."""
    return theoretical_food_cost(kitchen, ledger.sales.days(period.first, period.last, period.revision))


def period_asked(ledger: Ledger, first: date, last: date, position: Position, known_at: int) -> Period:
    """The period as known at a revision, which `position` gives the figures of."""
    return Period(first, last, position, ledger.sales.recorded(first, last, known_at))
