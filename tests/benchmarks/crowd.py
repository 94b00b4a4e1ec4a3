"""A crowd of readers in a process of its own: connections that ask by turns, and how long each answer took.

    python -m tests.benchmarks.crowd < plan.json

The plan: `port`, `key`, `seconds`, and `readers`, each with a `kind`, its `paths`, `tags` (whether it sends the tag
that it was given last, as a poll does) and `pause` (seconds from one request to the next; 0: at once). A reader that
pauses counts from the moment at which it was due, so that a server that stops is seen as slow, not as idle. Prints one
JSON object: per kind the answers, their percentiles in milliseconds, and how many had which status.
"""

import json
import re
import selectors
import socket
import sys
import time
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tests.benchmarks.results import percentile

_LENGTH = re.compile(rb"\r\nContent-Length: *(\d+)", re.IGNORECASE)
_TAG = re.compile(rb"\r\nETag: *([^\r]+)", re.IGNORECASE)
_LAST = re.compile(rb"\r\nConnection: *close", re.IGNORECASE)
LOST = "lost"
"""The status of an answer that did not come: the connection ended within it."""


@dataclass
class Reader:
    """One connection and what it is asking."""

    port: int
    key: str
    kind: str
    paths: list[str]
    tags: bool
    pause: float = 0
    due: float = 0
    connection: socket.socket | None = None
    asking: bool = False
    turn: int = 0
    known: dict[str, bytes] = field(default_factory=dict)
    head: bytearray = field(default_factory=bytearray)
    left: int = -1
    status: str = ""
    ends: bool = False

    def ask(self, waiting: selectors.BaseSelector) -> None:
        """Send the next request; connect first where there is no connection."""
        if self.connection is None:
            self.connection = socket.create_connection(("127.0.0.1", self.port), timeout=60)
            waiting.register(self.connection, selectors.EVENT_READ, self)
        path = self._path
        tag = self.known.get(path)
        self.asking, self.left = True, -1
        self.head.clear()
        self.connection.sendall(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {self.key}\r\nAccept-Encoding: gzip\r\n"
            .encode() + (b"If-None-Match: " + tag + b"\r\n" if tag else b"") + b"\r\n")

    def take(self, waiting: selectors.BaseSelector) -> bool:
        """Take what has come; whether the answer is whole."""
        assert self.connection is not None
        try:
            part = self.connection.recv(1 << 20)
        except OSError:
            part = b""
        if not part:
            self.close(waiting)
            self.status = LOST
            return self.asking
        if self.left >= 0:
            self.left -= len(part)
        else:
            self._take_head(part)
        if self.left != 0:
            return False
        if self.ends:
            self.close(waiting)
        return True

    def close(self, waiting: selectors.BaseSelector) -> None:
        if self.connection is not None:
            waiting.unregister(self.connection)
            self.connection.close()
            self.connection = None

    @property
    def _path(self) -> str:
        return self.paths[self.turn % len(self.paths)]

    def _take_head(self, part: bytes) -> None:
        self.head += part
        end = self.head.find(b"\r\n\r\n")
        if end < 0:
            return
        self.status = self.head[9:12].decode()
        told = None if self.status == "304" else _LENGTH.search(self.head, 0, end)
        self.left = (int(told[1]) if told else 0) - (len(self.head) - end - 4)
        self.ends = _LAST.search(self.head, 0, end) is not None
        tag = _TAG.search(self.head, 0, end)
        if self.tags and tag:
            self.known[self._path] = bytes(tag[1])


def read(plan: Mapping[str, Any]) -> dict[str, Any]:
    """Carry out a plan."""
    waiting = selectors.DefaultSelector()
    readers = [Reader(plan["port"], plan["key"], **one) for one in plan["readers"]]
    took: dict[str, list[float]] = {reader.kind: [] for reader in readers}
    statuses: dict[str, Counter[str]] = {reader.kind: Counter() for reader in readers}
    began = time.monotonic()
    for place, reader in enumerate(readers):
        reader.due = began + reader.pause * place / len(readers)
    while (now := time.monotonic()) < began + plan["seconds"]:
        for reader in readers:
            if not reader.asking and reader.due <= now:
                reader.ask(waiting)
        for reader in _answered(waiting, readers, now):
            now = time.monotonic()
            took[reader.kind].append((now - reader.due) * 1e3)
            statuses[reader.kind][reader.status] += 1
            reader.asking, reader.turn = False, reader.turn + 1
            reader.due = reader.due + reader.pause if reader.pause else now
    for reader in readers:
        reader.close(waiting)
    return {kind: told(took[kind], statuses[kind], now - began) for kind in took}


def _answered(waiting: selectors.BaseSelector, readers: list[Reader], now: float) -> Iterable[Reader]:
    """The readers whose answers have come whole, after waiting for some at most until the next is due."""
    if not waiting.get_map():
        time.sleep(0.001)
        return ()
    until = min((reader.due - now for reader in readers if not reader.asking), default=0.5)
    return [key.data for key, _ in waiting.select(min(0.5, max(0.0, until))) if key.data.take(waiting)]


def told(took: list[float], statuses: Mapping[str, int], seconds: float) -> dict[str, Any]:
    """What one kind of request comes to."""
    return {"count": len(took), "rate": len(took) / seconds, "p50": percentile(took, 50) if took else 0.0,
            "p99": percentile(took, 99) if took else 0.0, "most": max(took, default=0.0), "statuses": dict(statuses)}


if __name__ == "__main__":
    print(json.dumps(read(json.load(sys.stdin))))
