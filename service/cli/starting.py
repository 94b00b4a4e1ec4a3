"""Starting workers: none is sent a request that would wait until it has read the whole ledger.

Each builds its first snapshot as it starts (watching/first_snapshot.py). The first workers of a service listen
meanwhile and say that they are not ready, so that who watches a start sees one that lives. One that takes the place of
another listens only once it has its snapshot, as long as another one answers: the queue of the socket is theirs.

The master and its workers share a byte a worker, by its age: each writes its own, and the master those of the dead.
"""

import mmap
from typing import Any

from service.watching.first_snapshot import FirstSnapshot

_ANSWERS, _GONE = 1, 2
HEARTBEAT_SECONDS = 0.2


class Starting:
    """Which workers of a service have had their first snapshot, and which of them answer."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._shared = mmap.mmap(-1, mmap.PAGESIZE)

    @property
    def is_over(self) -> bool:
        """Whether as many as there are have been ready once."""
        return mmap.PAGESIZE - self._shared[:].count(0) >= self._workers

    def begin(self, worker: Any, first: FirstSnapshot) -> None:
        """In a worker that has its application: build its first snapshot, and let others answer meanwhile, if there
        are such."""
        first.begin(then=lambda: self._note(worker.age, _ANSWERS))
        while worker.alive and self._another_answers() and not first.is_there(HEARTBEAT_SECONDS):
            worker.notify()

    def gone(self, worker: Any) -> None:
        """It takes no more requests: it leaves, or is dead."""
        if self._shared[self._place(worker.age)] == _ANSWERS:
            self._note(worker.age, _GONE)

    def _note(self, age: int, what: int) -> None:
        self._shared[self._place(age)] = what

    def _another_answers(self) -> bool:
        return self._shared[:].count(_ANSWERS) > 0

    def _place(self, age: int) -> int:
        return age % mmap.PAGESIZE
