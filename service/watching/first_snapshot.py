"""A worker's first snapshot: built as it starts, so that no request has to wait for the whole ledger to be read.

Of a menu of 100 000 dishes that takes most of a minute; what changes afterwards takes what it moves. A ledger that
cannot be reached yet, or is not migrated, is waited for; so is one whose files are damaged or that lacks a grant, which
is told once, until somebody has mended it. Whatever else goes wrong is told, and ends the waiting: requests that need
no snapshot are answered all the same, and those that do will say what it is.

Rules that always hold: nothing is built before `begin`, which a process calls after it was forked; it builds once.
"""

import logging
import threading
from collections.abc import Callable
from functools import partial

from service.use_cases.cost_rows import dish_row
from service.use_cases.ledger_unavailable import LedgerUnavailable, NeedsAHand
from service.use_cases.ports import Ledger
from service.use_cases.position import Position
from service.use_cases.snapshots import Snapshots

PAUSE_SECONDS = 1.0
PAUSES_FOR_A_HAND = 30
"""So many times as long until a ledger is read again that somebody has to mend first."""
_LOG = logging.getLogger("seamcost.starting")


class FirstSnapshot:
    """Whether a worker has its first snapshot. `fits` asks whether the database can be read, `build` builds it: either
    raises LedgerUnavailable where it cannot yet."""

    def __init__(self, fits: Callable[[], bool], build: Callable[[], None], pause_seconds: float = PAUSE_SECONDS
                 ) -> None:
        self._fits, self._build, self._pause = fits, build, pause_seconds
        self._begun, self._there = threading.Lock(), threading.Event()
        self.to_mend: Callable[[], NeedsAHand] | None = None
        """What somebody has to mend first, while that is found so."""

    def begin(self, then: Callable[[], None] = lambda: None) -> None:
        """Begin to build it beside all else, unless that was begun; `then` is called once it is there."""
        if self._begun.acquire(blocking=False):
            threading.Thread(target=self._work, args=(then,), daemon=True, name="first snapshot").start()

    def is_there(self, patience_seconds: float = 0.0) -> bool:
        """Whether it is there, after at most so long."""
        return self._there.is_set() or (patience_seconds > 0 and self._there.wait(patience_seconds))

    def _work(self, then: Callable[[], None]) -> None:
        while True:
            try:
                self._fits()
                self._build()
                _LOG.info("the first snapshot is there")
                break
            except NeedsAHand as to_mend:
                if self.to_mend is None:
                    _LOG.exception("the first snapshot waits for a ledger that can be read")
                self.to_mend = partial(type(to_mend), str(to_mend))
                self._there.wait(self._pause * PAUSES_FOR_A_HAND)
            except LedgerUnavailable:
                self._there.wait(self._pause)
            except Exception:
                _LOG.exception("the first snapshot could not be built; requests that need one will say why")
                break
        self.to_mend = None
        self._there.set()
        then()


def build_first(ledger: Ledger, snapshots: Snapshots) -> None:
    """What a till's first request needs: the newest snapshot, and what is gathered once for all rows of dishes. Of a
    ledger without figures there is nothing to build.

    Raises:  LedgerUnavailable.
    """
    head = ledger.head()
    if head.figures_revision:
        snapshot = snapshots.at(Position(head.figures_revision, head.figures_hash, ledger.today_at(head)))
        for code in list(snapshot.kitchen.dishes)[:1]:
            dish_row(snapshot, code)
