"""A load generator of its own process: keep-alive connections that ask again as soon as they are answered.

    python -m tests.benchmarks.load HOST PORT SECONDS CONNECTIONS STATUS < request

Answers must all be as long as the first (the same URL and state), so that counting bytes counts answers; the status of
each is checked. Prints answers per second.
"""

import selectors
import socket
import sys
import time
from dataclasses import dataclass


@dataclass
class Asking:
    """One connection, and how many bytes of the current answer are still to come."""

    connection: socket.socket
    left: int


def answer_length(host: str, port: int, request: bytes) -> int:
    """The length of one whole answer, headers and body, as it comes over the wire."""
    with socket.create_connection((host, port), timeout=10) as connection:
        connection.sendall(request)
        connection.settimeout(0.5)
        received = b""
        try:
            while part := connection.recv(1 << 20):
                received += part
        except TimeoutError:
            pass
    return len(received)


def rate(host: str, port: int, request: bytes, seconds: float, connections: int, status: bytes) -> float:
    """Answers per second over so many connections."""
    length = answer_length(host, port, request)
    waiting = selectors.DefaultSelector()
    for _ in range(connections):
        connection = socket.create_connection((host, port), timeout=10)
        waiting.register(connection, selectors.EVENT_READ, Asking(connection, length))
        connection.sendall(request)
    answered, start = 0, time.perf_counter()
    while (now := time.perf_counter()) < start + seconds:
        for key, _ in waiting.select(timeout=1):
            answered += _read(key.data, length, request, status)
    for key in list(waiting.get_map().values()):
        key.data.connection.close()
    return answered / (now - start)


def _read(asking: Asking, length: int, request: bytes, status: bytes) -> int:
    part = asking.connection.recv(min(asking.left, 1 << 20))
    if not part:
        raise SystemExit("the server closed a connection")
    if asking.left == length and not part.startswith(b"HTTP/1.1 " + status):
        raise SystemExit(f"unexpected answer: {part[:200]!r}")
    asking.left -= len(part)
    if asking.left:
        return 0
    asking.left = length
    asking.connection.sendall(request)
    return 1


if __name__ == "__main__":
    host_, port_, seconds_, connections_, status_ = sys.argv[1:]
    print(rate(host_, int(port_), sys.stdin.buffer.read(), float(seconds_), int(connections_), status_.encode()))
