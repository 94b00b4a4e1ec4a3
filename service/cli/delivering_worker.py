"""Delivering webhooks from within `serve`, on the embedded database: by one of the worker processes at a time.

Rules that always hold: whichever worker has the lock delivers, and when it ends, however it ends, another takes over;
the thread ends with its worker. The lock is one of the operating system's, on a file without a name that the parent
opened: such locks belong to a process, are not inherited, and go with it.

Source: POSIX.1-2017, `fcntl`, advisory record locking.
"""

import fcntl
import tempfile
import threading
from collections.abc import Callable
from typing import Any

from flask import Flask

from service.integrations.webhooks.deliverer import Deliverer

LOOK_AGAIN_SECONDS = 1.0
LAST_ANSWERS_SECONDS = 3.0


class DeliveringWorker:
    """Hooks for gunicorn: `begin` when a worker has its application, `end` when it leaves."""

    def __init__(self, deliverer_in: Callable[[Flask], Deliverer]) -> None:
        self._deliverer_in = deliverer_in
        self._lock = tempfile.TemporaryFile()  # noqa: SIM115  (open as long as the process lives)
        self._deliverer: Deliverer | None = None
        self._thread: threading.Thread | None = None
        self._ending = threading.Event()

    def begin(self, worker: Any) -> None:
        """In a worker: start the thread."""
        self._deliverer = self._deliverer_in(worker.wsgi)
        self._thread = threading.Thread(target=self._deliver, daemon=True, name="webhook deliverer")
        self._thread.start()

    def end(self, _server: Any, _worker: Any) -> None:
        """In a worker that leaves: note what still comes, for a moment."""
        self._ending.set()
        if self._deliverer is not None and self._thread is not None:
            self._deliverer.stop()
            self._thread.join(LAST_ANSWERS_SECONDS)

    def _deliver(self) -> None:
        while not self._has_the_lock():
            if self._ending.wait(LOOK_AGAIN_SECONDS):
                return
        if self._deliverer is not None:
            self._deliverer.run()

    def _has_the_lock(self) -> bool:
        try:
            fcntl.lockf(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
