"""Answers that some ask for and most do not, kept with their snapshot: the latest used, as many as fit.

Everybody may choose rows and fields as they like, so what is kept of it is bounded; the unchosen first page, which
most poll, is kept besides and is never pushed out.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress

from service.rest.conditional import Prebuilt
from service.use_cases.snapshot import Snapshot

MOST_BYTES = 8 * 1_048_576
_BESIDES = 1024
"""What an answer takes beside its bytes, about."""


class RecentAnswers:
    """The answers kept of one snapshot. One is made at a time, so that many who ask for the same wait for it."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._kept: OrderedDict[str, Prebuilt] = OrderedDict()
        self._bytes, self._most = 0, most_bytes
        self._lock = threading.Lock()

    def found(self, name: str) -> Prebuilt | None:
        """What is kept under a name, or None."""
        found = self._kept.get(name)
        if found is not None:
            with suppress(KeyError):
                self._kept.move_to_end(name)
        return found

    def kept(self, name: str, make: Callable[[], Prebuilt]) -> Prebuilt:
        """What `make` gives, made once while it is kept."""
        found = self.found(name)
        if found is not None:
            return found
        with self._lock:
            return self._kept[name] if name in self._kept else self._keep(name, make())

    def __len__(self) -> int:
        return len(self._kept)

    def _keep(self, name: str, made: Prebuilt) -> Prebuilt:
        self._kept[name] = made
        self._bytes += _size(made)
        while self._bytes > self._most and self._kept:
            _, oldest = self._kept.popitem(last=False)
            self._bytes -= _size(oldest)
        return made


def recent_answers(snapshot: Snapshot) -> RecentAnswers:
    """Those of a snapshot."""
    return snapshot.kept("recent answers", RecentAnswers)


def _size(made: Prebuilt) -> int:
    return len(made.body) + len(made.gzipped or b"") + _BESIDES
