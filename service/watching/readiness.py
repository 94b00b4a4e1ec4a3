"""May a worker be sent requests: its service stays, its database fits, and the figures of its ledger are at hand.

A start is over once every worker has its first snapshot (first_snapshot.py): requests are spread over all of them, and
whichever is asked, it answers for the service.
"""

import threading
from collections.abc import Callable, Mapping
from time import monotonic, sleep

from service.watching.first_snapshot import FirstSnapshot

STAYS, DATABASE, SNAPSHOT = "stays", "database", "snapshot"
PATIENCE_SECONDS, LOOK_AGAIN_SECONDS = 1.0, 0.02


class Readiness:
    """The checks of a worker, each True when well. `fits` raises LedgerUnavailable where the database cannot be asked;
    `build` builds the `first` snapshot; `started` says whether the other workers have had theirs too."""

    def __init__(self, fits: Callable[[], bool], build: Callable[[], None], stays: Callable[[], bool],
                 started: Callable[[], bool] = lambda: True) -> None:
        self.first = FirstSnapshot(fits, build)
        self._fits, self._stays, self._others = fits, stays, started
        self._waiting = threading.Lock()

    def now(self) -> Mapping[str, bool]:
        """As it is.

        Raises:  LedgerUnavailable.
        """
        if not self._stays():
            return {STAYS: False}
        checks = {DATABASE: self._fits()}
        if to_mend := self.first.to_mend:
            raise to_mend()
        self.first.begin()
        return checks | {SNAPSHOT: self._has_started()}

    def soon(self) -> Mapping[str, bool]:
        """The same, after a second at most in which a short start is over; of those who ask one alone waits.

        Raises:  LedgerUnavailable.
        """
        checks = self.now()
        if checks.get(SNAPSHOT, True) or not self._waiting.acquire(blocking=False):
            return checks
        try:
            until = monotonic() + PATIENCE_SECONDS
            while not self._has_started() and monotonic() < until:
                sleep(LOOK_AGAIN_SECONDS)
        finally:
            self._waiting.release()
        return self.now()

    def _has_started(self) -> bool:
        return self.first.is_there() and self._others()
