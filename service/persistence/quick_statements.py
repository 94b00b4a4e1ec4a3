"""Single statements through the driver's own cursor, each its own transaction, on a few connections kept open.

It asks what every request asks first; going through the engine would cost several times as much.
"""

import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Any

from service.persistence.database_faults import needs_a_hand, unavailable
from service.use_cases.ledger_unavailable import LedgerUnavailable

PATIENCE_SECONDS = 5.0
"""A statement takes less than a millisecond: who waits so long for a connection has found a server that hangs."""


@dataclass
class Quick:
    """At most `connections` are open at once, and one more who asks waits. Its threads share it."""

    connect: Callable[[], Any]
    errors: tuple[type[Exception], ...]
    connections: int = 8
    patience_seconds: float = PATIENCE_SECONDS
    _idle: deque[Any] = field(default_factory=deque)
    _free: threading.BoundedSemaphore = field(init=False)

    def __post_init__(self) -> None:
        self._free = threading.BoundedSemaphore(self.connections)

    def one(self, statement: str, parameters: Sequence[Any]) -> Any:
        """The first row, or None. A kept connection that broke is replaced, once; where files are damaged, or a grant
        is missing, another one is no better.

        Raises:  LedgerUnavailable.
        """
        with self._place():
            try:
                connection = self._idle.pop()
            except IndexError:
                return self._ask_anew(statement, parameters)
            try:
                return self._ask(connection, statement, parameters)
            except self.errors as error:
                if needs_a_hand(error):
                    raise unavailable(error) from error
                return self._ask_anew(statement, parameters)

    def close(self) -> None:
        """Close what is idle; what is in use is closed once it is given back. Other threads may do so too."""
        idle, self._idle = self._idle, deque()
        with suppress(IndexError):
            while True:
                _close(idle.pop())

    @contextmanager
    def _place(self) -> Iterator[None]:
        if not self._free.acquire(timeout=self.patience_seconds):
            raise LedgerUnavailable(f"No connection to the database came free in {self.patience_seconds:g} s: all "
                                    f"{self.connections} of this kind are waiting for it.")
        try:
            yield
        finally:
            self._free.release()

    def _ask_anew(self, statement: str, parameters: Sequence[Any]) -> Any:
        """Ask on a new connection. Whatever else was kept is as old as the one that broke, and closed with it."""
        self.close()
        try:
            return self._ask(self.connect(), statement, parameters)
        except self.errors as error:
            raise unavailable(error) from error

    def _ask(self, connection: Any, statement: str, parameters: Sequence[Any]) -> Any:
        idle = self._idle
        try:
            row = connection.execute(statement, parameters).fetchone()
        except BaseException:
            _close(connection)
            raise
        if idle is self._idle:
            idle.append(connection)
        else:
            _close(connection)
        return row


def _close(connection: Any) -> None:
    """A connection that broke may not even close."""
    with suppress(Exception):
        connection.close()
