"""The worker's kitchen: the latest one read is kept, and advanced when the ledger has moved on.

Beside it one from before is kept. Figures are read at the revision that moved one last, suppliers' items at the head:
without the second, a ledger whose head moves no figure would be loaded whole at every other request. The last few that
were advanced from are kept too, which share nearly all of it: a request asks for its kitchen a moment after it has read
the head, and to read one whole because another has written in that moment would keep all others waiting. And the last
few earlier ones that were asked for: who walks a list page by page asks for its revision again, whoever writes
meanwhile.

Thread-safe. One thread moves to a later one at a time; the others wait for what it builds instead of building it again.
An earlier one is read beside it, one at a time too: from the nearest kept one before it, of which little differs, and
whole only where there is none. Whoever asks for what is newest never waits for that: of 100 000 dishes it takes half a
minute, and a worker that has passed a revision by is asked for it as soon as somebody sends a price list.
"""

from collections.abc import Mapping
from operator import attrgetter
from threading import Lock

from sqlalchemy import Connection

from service.domain.kitchen import Kitchen
from service.persistence.entry_reading import figures_at
from service.persistence.kitchen_reading import KnownKitchen, advance, load

KEPT_OF_EARLIER, KEPT_OF_LEFT = 3, 8


class KitchenKeeper:
    """Keeps the kitchen of the latest revision asked for, one from before, the last few that were advanced from, and
    the last few earlier ones that were asked for."""

    def __init__(self) -> None:
        self._lock, self._reading_earlier = Lock(), Lock()
        self._kept: KnownKitchen | None = None
        self._before: Kitchen | None = None
        self._left: Mapping[int, Kitchen] = {}
        self._earlier: Mapping[int, Kitchen] = {}

    def kept(self, revision: int) -> Kitchen | None:
        """A kept kitchen, when it is of that very revision: no statement, no lock."""
        known, before = self._kept, self._before
        if known is not None and known.kitchen.revision == revision:
            return known.kitchen
        if before is not None and before.revision == revision:
            return before
        return self._left.get(revision) or self._earlier.get(revision)

    def at(self, connection: Connection, revision: int) -> Kitchen:
        """The kitchen as known at `revision`, which must be committed; a later one than the kept one is kept."""
        kept = self.kept(revision)
        if kept is not None:
            return kept
        with self._lock:
            kept, known = self.kept(revision), self._kept
            if kept is not None:
                return kept
            if known is None or revision > known.kitchen.revision:
                self._kept = load(connection, revision) if known is None else self._later(connection, known, revision)
                return self._kept.kitchen
        with self._reading_earlier:
            return self.kept(revision) or self._read_earlier(connection, revision)

    def _read_earlier(self, connection: Connection, revision: int) -> Kitchen:
        """One that lies before the kept one."""
        nearest = self._nearest_before(revision)
        found = (load(connection, revision) if nearest is None else advance(connection, nearest, revision)).kitchen
        with self._lock:
            self._earlier = _with_last(self._earlier, found, KEPT_OF_EARLIER)
        return found

    def _nearest_before(self, revision: int) -> KnownKitchen | None:
        """The last kept one before a revision, with a numbering of its own, which may know more than it needs."""
        with self._lock:
            kept = [*self._left.values(), *self._earlier.values(), *([self._before] if self._before else [])]
            before = [kitchen for kitchen in kept if kitchen.revision < revision]
            if not before or self._kept is None:
                return None
            return KnownKitchen(max(before, key=attrgetter("revision")), self._kept.numbering.copied())

    def known(self, revision: int) -> KnownKitchen | None:
        """The kept kitchen of that very revision for another to advance: with a numbering of its own."""
        with self._lock:
            known = self._kept
            if known is None or known.kitchen.revision != revision:
                return None
            return KnownKitchen(known.kitchen, known.numbering.copied())

    def numbers(self, revision: int) -> Mapping[str, Mapping[str, int]]:
        """The numbers of codes, by identity table, as far as the kitchen of that very revision was read with them."""
        known = self._kept
        return known.numbering.ids if known is not None and known.kitchen.revision == revision else {}

    def _later(self, connection: Connection, known: KnownKitchen, revision: int) -> KnownKitchen:
        """Advance, and keep what was there: but not in place of one with the same figures, which is asked for again."""
        left = known.kitchen
        if self._before is None or self._before.revision < figures_at(connection, left.revision)[0]:
            self._before = left
        self._left = _with_last(self._left, left, KEPT_OF_LEFT)
        return advance(connection, known, revision)


def _with_last(kept: Mapping[int, Kitchen], last: Kitchen, most: int) -> Mapping[int, Kitchen]:
    """At most so many, by revision, the last put in last. Another mapping each time: readers take no lock."""
    return {**dict(list(kept.items())[1 - most:]), last.revision: last}
