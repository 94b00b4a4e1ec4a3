"""Snapshots: every figure of one (revision, day), computed once a worker and then only read.

A figure is a function of the latest revision that can move it and of the day, so nothing here goes stale: a request
asks the ledger for its head, and is served from the snapshot of that head. One builder of a day at a time; who waited
for one and is overtaken by writes is served from the later snapshot that others built. Revisions that are named are
built beside them, one at a time: to build what has been passed is to go back, and tills are not to wait for it. That of
the newest revision today is never evicted, and some tens of other (revision, day) pairs are kept; of these the last few
alone with the rows and bytes that were made of them, which are much larger than the figures.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable
from operator import attrgetter

from service.use_cases.ports import Ledger
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.turns import Turns

KEPT, KEPT_WITH_ANSWERS = 40, 12
NAMED = "named"


class Snapshots:
    """The snapshots of one worker. `building` calls what it is given, which builds one: for who watches that."""

    def __init__(self, ledger: Ledger, building: Callable[[Callable[[], Snapshot]], Snapshot] | None = None) -> None:
        self._ledger, self._building = ledger, building or (lambda build: build())
        self._kept: OrderedDict[Position, Snapshot] = OrderedDict()
        self._turns = Turns()
        """Builders take turns: those of what is newest of a day, and those of a revision that was named."""
        self._lock = threading.Lock()
        """Held to look through all that are kept, and to change which are."""

    def at(self, position: Position) -> Snapshot:
        """The snapshot of a position, or of a later one where that is as good; built if no request has asked for it
        yet."""
        snapshot = self._kept.get(position)
        if snapshot is not None:
            return snapshot
        with self._turns.of(position.day if position.or_later else NAMED):
            if position.or_later and position not in self._kept:
                position = self._now_in_place_of(position)
            found = self._kept.get(position)
            if found is not None:
                return found
            built = self._building(lambda: self._build(position))
            with self._lock:
                self._kept[position] = built
        self._let_go()  # others need not wait for it
        return built

    def kept(self, position: Position) -> Snapshot | None:
        """The snapshot of a position if there is one already."""
        return self._kept.get(position)

    def _now_in_place_of(self, position: Position) -> Position:
        """The latest position that is kept of the day, else that of the head. Only such as this very ledger has: one
        that was restored has gone back."""
        kept = max((kept for kept in self._positions() if kept.day == position.day
                    and kept.revision > position.revision), key=attrgetter("revision"), default=None)
        if kept is not None and self._ledger.figures_at(kept.revision) == (kept.revision, kept.hash):
            return kept
        head = self._ledger.head()
        return position if head.figures_revision <= position.revision else Position(
            head.figures_revision, head.figures_hash, position.day)

    def _build(self, position: Position) -> Snapshot:
        return Snapshot.of(position, self._ledger.kitchen(position.revision), self._nearest(position))

    def _nearest(self, position: Position) -> Snapshot | None:
        """The one from which least differs: of the nearest day, then the last before it, then the first after it. Not
        the one that was built last: for tills that may be an older one, which somebody named amid their polls."""
        nearest = max(self._positions(), default=None, key=lambda kept: (
            -abs((kept.day - position.day).days), kept.revision <= position.revision,
            -abs(kept.revision - position.revision)))
        return self._kept.get(nearest) if nearest is not None else None

    def _positions(self) -> list[Position]:
        with self._lock:
            return list(self._kept)

    def _let_go(self) -> None:
        """Let go of what is kept beyond what may be, the longest kept first."""
        if len(self._kept) <= KEPT_WITH_ANSWERS:
            return
        today = self._ledger.today()
        with self._lock:
            polled = max(self._kept, key=lambda kept: (kept.revision, kept.day == today))
            older = [kept for kept in self._kept if kept != polled]
            for position in older[:-KEPT_WITH_ANSWERS]:
                self._kept[position].forget()
            for position in older[:max(0, len(self._kept) - KEPT)]:
                del self._kept[position]
