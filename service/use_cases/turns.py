"""Turns: of many who would make the same, one at a time makes it."""

import threading
from collections.abc import Hashable
from weakref import WeakValueDictionary


class Turns:
    """A lock for each name, there for as long as somebody holds it or waits for it: taken away sooner, the next who
    comes would make it beside who waits; kept, each name that anybody ever asked for would leave one behind."""

    def __init__(self) -> None:
        self._locks: WeakValueDictionary[Hashable, threading.RLock] = WeakValueDictionary()
        self._looking_up = threading.Lock()

    def of(self, name: Hashable) -> threading.RLock:
        """The lock of a name. Who makes that name of others may come back to it in the same thread."""
        with self._looking_up:
            return self._locks.setdefault(name, threading.RLock())

    def __len__(self) -> int:
        return len(self._locks)
