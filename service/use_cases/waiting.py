"""Waiting until the ledger moves: one look-out for all who wait in a worker, and only so many who may.

Rules that always hold: who waits holds no connection; there is a bounded number of places, so that the other threads of
a worker are left for short requests; what is waited for is looked at by one thread, which ends when nobody waits.
"""

import threading
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager

PAUSE_SECONDS = 0.2
"""Between two looks: what a waiter learns late at most."""


class Waiting:
    """The waiting room of a worker. `look` gives something that differs once the ledger has moved or a day began; while
    it raises one of `unavailable`, nothing is known."""

    def __init__(self, places: int, look: Callable[[], Hashable], unavailable: tuple[type[Exception], ...] = ()
                 ) -> None:
        self._free = threading.BoundedSemaphore(places)
        self._look, self._unavailable = look, unavailable
        self._changed = threading.Condition()
        self._closing = threading.Event()
        self._ended: Callable[[], bool] = bool
        self._waiters = self._looks = 0
        self._found: Hashable = None
        self._looking = False

    @contextmanager
    def place(self) -> Iterator[bool]:
        """A place in the room for the length of the block; False when all are taken."""
        taken = self._free.acquire(blocking=False)
        try:
            yield taken
        finally:
            if taken:
                self._free.release()

    def until_moved(self, seen: Hashable, seconds: float) -> bool:
        """Wait until a look gives something else than `seen`, at most so long; whether it did."""
        with self._changed:
            began = self._looks
            self._waiters += 1
            try:
                self._begin_to_look()
                self._changed.wait_for(lambda: self._moved(began, seen) or self._closing.is_set(), seconds)
                return not self._closing.is_set() and self._moved(began, seen)
            finally:
                self._waiters -= 1

    def leave_when(self, ended: Callable[[], bool]) -> None:
        """Send everybody away once this says so: that the worker ends."""
        self._ended = ended

    def _moved(self, began: int, seen: Hashable) -> bool:
        """A look from before the wait says nothing."""
        return self._looks > began and self._found != seen

    def _begin_to_look(self) -> None:
        if not self._looking:
            threading.Thread(target=self._keep_looking, name="looks for changes", daemon=True).start()
            self._looking = True  # where no thread was to be had, the next who waits tries again

    def _keep_looking(self) -> None:
        try:
            while self._somebody_waits():
                self._look_once()
        except BaseException:
            self._looking = False  # the next who waits begins anew
            raise

    def _somebody_waits(self) -> bool:
        """After a pause: whether to look. Who comes when nobody did begins to look again."""
        if self._closing.wait(PAUSE_SECONDS):
            return False
        with self._changed:
            self._looking = self._waiters > 0
            return self._looking

    def _look_once(self) -> None:
        found = None
        if self._ended():
            self._closing.set()
        else:
            try:
                found = self._look()
            except self._unavailable:
                return
        with self._changed:
            self._looks += 1
            self._found = found
            self._changed.notify_all()
