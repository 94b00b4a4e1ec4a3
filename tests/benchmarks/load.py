"""A load generator of its own process: connections that ask again as soon as they are answered.

    python -m tests.benchmarks.load HOST PORT SECONDS CONNECTIONS STATUS < request

The status of each answer is checked; its length is what its own header says. A connection that the server ends is
opened anew. Prints answers per second.
"""

import re
import selectors
import socket
import sys
import time
from dataclasses import dataclass, field

_LENGTH = re.compile(rb"\r\nContent-Length: *(\d+)", re.IGNORECASE)
_LAST = re.compile(rb"\r\nConnection: *close", re.IGNORECASE)


@dataclass
class Asking:
    """One connection: what has come of an answer's head, and how many bytes of its body are still to come."""

    connection: socket.socket
    head: bytearray = field(default_factory=bytearray)
    left: int = 0
    last: bool = False

    def take(self, part: bytes, status: bytes) -> bool:
        """Take a part of an answer; whether that was its end."""
        if self.left:
            self.left -= len(part)
            return not self.left
        self.head += part
        end = self.head.find(b"\r\n\r\n")
        if end < 0:
            return False
        if not self.head.startswith(b"HTTP/1.1 " + status):
            raise SystemExit(f"unexpected answer: {bytes(self.head[:400])!r}")
        told = None if status == b"304" else _LENGTH.search(self.head, 0, end)
        self.last = _LAST.search(self.head, 0, end) is not None
        self.left = (int(told[1]) if told else 0) - (len(self.head) - end - 4)
        self.head.clear()
        return not self.left


def rate(host: str, port: int, request: bytes, seconds: float, connections: int, status: bytes) -> float:
    """Answers per second over so many connections."""
    waiting = selectors.DefaultSelector()

    def ask_anew() -> None:
        connection = socket.create_connection((host, port), timeout=10)
        waiting.register(connection, selectors.EVENT_READ, Asking(connection))
        connection.sendall(request)

    def end(asking: Asking) -> None:
        waiting.unregister(asking.connection)
        asking.connection.close()

    for _ in range(connections):
        ask_anew()
    answered, start = 0, time.perf_counter()
    while (now := time.perf_counter()) < start + seconds:
        for key, _ in waiting.select(timeout=1):
            asking: Asking = key.data
            part = asking.connection.recv(1 << 20)
            if not part:
                raise SystemExit("the server ended a connection within an answer")
            if asking.take(part, status):
                answered += 1
                if asking.last:
                    end(asking)
                    ask_anew()
                else:
                    asking.connection.sendall(request)
    for key in list(waiting.get_map().values()):
        end(key.data)
    return answered / (now - start)


if __name__ == "__main__":
    host_, port_, seconds_, connections_, status_ = sys.argv[1:]
    print(rate(host_, int(port_), sys.stdin.buffer.read(), float(seconds_), int(connections_), status_.encode()))
