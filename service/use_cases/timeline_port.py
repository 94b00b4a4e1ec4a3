"""What walking the timeline of figures needs from the ledger."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from service.domain.kitchen import Kitchen


@dataclass(frozen=True, slots=True)
class FigureRevision:
    """A revision that can move a figure: the business day at its commit, and its hash."""

    number: int
    on_date: date
    hash: str


class KitchenWalk(Protocol):
    """The kitchens of growing revisions, each read by what was recorded since the one before."""

    def at(self, revision: int) -> Kitchen:
        """All that was recorded as known at `revision`."""


class TimelineReads(Protocol):
    """Which revisions the timeline is made of, and the kitchens along it."""

    def figure_revisions(self, after: int, limit: int) -> Sequence[FigureRevision]:
        """At most `limit` revisions that can move a figure, in order, from the first one above `after`."""

    def figures_before(self, day: date) -> int:
        """The latest revision of a business day before `day` that can move a figure; 0 where there is none."""

    def walk(self) -> KitchenWalk:
        """A walk through kitchens of the past beside the worker's latest. For one thread at a time."""
