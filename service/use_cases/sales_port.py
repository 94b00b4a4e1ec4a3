"""Sales: what the use cases need to keep and find what the POS sold."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import Protocol

from service.domain.history import Mark
from service.domain.sales import SalesDay


class SalesBook(Protocol):
    """The sales of a ledger, as known at a revision, outside of a write."""

    def recorded(self, first: date, last: date, known_at: int) -> Mapping[date, Mark]:
        """The business dates that have sales, in their order, and the entry that recorded those that stand."""

    def days(self, first: date, last: date, known_at: int) -> Sequence[SalesDay]:
        """The sales of those dates, in their order; lines as they were sent."""


class SalesWork(Protocol):
    """The sales within a write: read under the lock, and stored with the revision whose entry says so."""

    def standing(self, days: Collection[date]) -> Mapping[date, SalesDay]:
        """The sales that stand for these dates, of those that have some."""

    def keep(self, day: SalesDay) -> None:
        """Store a date's sales in place of those that stand, which are marked replaced, not erased."""
