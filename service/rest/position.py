"""The position of a read: which day, as known at which revision; for a list also where its page goes on.

A list's cursor keeps the position of its first page, so that every page is of one revision and one day.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from service.domain.errors import WrongValue
from service.domain.kitchen import Kitchen
from service.rest.api_keys import caller
from service.rest.paging import Cursors
from service.rest.places import Places
from service.use_cases.ports import Head, Ledger
from service.use_cases.position import Position, hold_to_days_open, position_asked, position_recorded
from service.use_cases.read_record import Listed
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots

MOST_WAITING = 3
"""Requests of a worker that wait while a position is built that is not the newest."""


@dataclass(frozen=True, slots=True)
class Page:
    """Where a page of a list starts: its position, the row after which it goes on, and how long it is."""

    position: Position
    after: str
    limit: int


@dataclass(frozen=True, slots=True)
class Positions:
    """Finds the position that a request asks for."""

    ledger: Ledger
    snapshots: Snapshots
    cursors: Cursors
    elsewhere: Places = field(default_factory=lambda: Places(1, MOST_WAITING))
    """Where positions are built that are not the newest."""

    def asked(self, query: Mapping[str, Any]) -> Position:
        """The position of a request, held to what its key may look back at."""
        asking = caller()
        return position_asked(
            self.ledger, asking.head, self.ledger.today_at(asking.head), query.get("as_of"), query.get("known_at"),
            costs_only=self._costs_only())

    def asked_in_body(self, body: Mapping[str, Any]) -> Position:
        """The position that the body of a request asks for.

        Raises:  WrongValue at `known_at` in the body.
        """
        try:
            return self.asked(body)
        except WrongValue as fault:
            raise WrongValue(fault.detail, "#/known_at") from None

    def page(self, query: Mapping[str, Any]) -> Page:
        """Where the page starts that a request asks for.

        Raises:  WrongCursor; NotAllowed for a cursor of a day that its key may not look back at any more.
        """
        cursor = self.cursors.place(query)
        if cursor is None:
            return Page(self.asked(query), "", query["limit"])
        hold_to_days_open(cursor.as_of, self.ledger.today_at(caller().head), costs_only=self._costs_only())
        revision, revision_hash = self.ledger.figures_at(cursor.revision)
        return Page(Position(revision, revision_hash, cursor.as_of), cursor.position, query["limit"])

    def recorded(self, query: Mapping[str, Any]) -> Position:
        """As `asked`, for records that move no figure: at the head, not at the revision that moved a figure last."""
        head = caller().head
        return position_recorded(head, self.ledger.today_at(head), query.get("as_of"), query.get("known_at"))

    def recorded_page(self, query: Mapping[str, Any]) -> Page:
        """As `page`, for records that move no figure.

        Raises:  WrongCursor.
        """
        cursor = self.cursors.place(query)
        if cursor is None:
            return Page(self.recorded(query), "", query["limit"])
        return Page(Position(cursor.revision, "", cursor.as_of), cursor.position, query["limit"])

    @staticmethod
    def _costs_only() -> bool:
        return "read" not in caller().scopes

    def kitchen(self, position: Position) -> Kitchen:
        return self.ledger.kitchen(position.revision)

    def snapshot(self, position: Position, head: Head | None = None) -> Snapshot:
        """The snapshot of a position. Who asks for the newest waits behind one builder at most. `head` is the ledger's
        as it was just read, where nobody's key was asked for with it.

        Raises:  ReadersBusy for another one that is to be built, while several are.
        """
        found = self.snapshots.kept(position)
        if found is not None:
            return found
        head = head or caller().head
        if position.revision == head.figures_revision and position.day == self.ledger.today_at(head):
            return self.snapshots.at(position)
        with self.elsewhere.one():
            return self.snapshots.at(position)

    def envelope(self, listed: Listed, page: Page) -> tuple[dict[str, Any], int, dict[str, str]]:
        """The page as it goes out."""
        return self.cursors.page(listed.data, revision=page.position.revision, as_of=page.position.day,
                                 next_position=listed.next_after)
