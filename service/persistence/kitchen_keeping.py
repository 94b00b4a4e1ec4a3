"""The worker's kitchen: the latest one read is kept, and advanced when the ledger has moved on.

Thread-safe. One thread builds at a time; the others wait for what it builds instead of building it again.
"""

from threading import Lock

from sqlalchemy import Connection

from service.domain.kitchen import Kitchen
from service.persistence.kitchen_reading import KnownKitchen, advance, load


class KitchenKeeper:
    """Keeps the kitchen of the latest revision asked for."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: KnownKitchen | None = None

    def kept(self, revision: int) -> Kitchen | None:
        """The kept kitchen, when it is of that very revision: no statement, no lock."""
        known = self._kept
        return known.kitchen if known is not None and known.kitchen.revision == revision else None

    def at(self, connection: Connection, revision: int) -> Kitchen:
        """The kitchen as known at `revision`, which must be committed; a later one than the kept one is kept."""
        kept = self.kept(revision)
        if kept is not None:
            return kept
        with self._lock:
            known = self._kept
            if known is None or revision >= known.kitchen.revision:
                self._kept = self._later(connection, known, revision)
                return self._kept.kitchen
        return load(connection, revision).kitchen

    @staticmethod
    def _later(connection: Connection, known: KnownKitchen | None, revision: int) -> KnownKitchen:
        return load(connection, revision) if known is None else advance(connection, known, revision)
