"""Kitchens of the past, one revision after another: each read by what was recorded since the one before.

Where the worker's own kitchen passes by it is taken over, so that what the two hold is shared.
"""

from service.domain.kitchen import Kitchen
from service.persistence.engines import Engines
from service.persistence.kitchen_keeping import KitchenKeeper
from service.persistence.kitchen_reading import KnownKitchen, advance, load


class SqlKitchenWalk:
    """The `KitchenWalk` port. For one thread at a time."""

    def __init__(self, engines: Engines, keeper: KitchenKeeper) -> None:
        self._engines, self._keeper = engines, keeper
        self._known: KnownKitchen | None = None

    def at(self, revision: int) -> Kitchen:
        """All that was recorded as known at `revision`; quick when it is not below the one asked for before."""
        known = self._known
        if known is None or known.kitchen.revision != revision:
            known = self._keeper.known(revision) or self._read(known, revision)
            self._known = known
        return known.kitchen

    def _read(self, known: KnownKitchen | None, revision: int) -> KnownKitchen:
        with self._engines.read() as connection:
            if known is None or known.kitchen.revision > revision:
                return load(connection, revision)
            return advance(connection, known, revision)
