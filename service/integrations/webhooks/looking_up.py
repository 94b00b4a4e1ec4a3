"""The addresses of a name, within a time that is bounded.

`getaddrinfo` cannot be told how long it may take, and cannot be broken off: it runs in a thread of its own, which is
left behind when the time is up and ends when the resolver gives up. There are only so many of these threads at a time,
so that names which nobody answers for cannot pile them up; who finds none free has looked in vain.
"""

import socket
from collections.abc import Callable, Sequence
from ipaddress import IPv4Address, IPv6Address, ip_address
from threading import BoundedSemaphore, Event, Thread
from time import monotonic

MOST_AT_A_TIME = 32
PLACES = BoundedSemaphore(MOST_AT_A_TIME)

LookUp = Callable[[str, int, float], Sequence[IPv4Address | IPv6Address]]
"""The addresses of a host for a port, within so many seconds. Raises: LookedUpInVain."""


class LookedUpInVain(Exception):
    """The name has no address, or nobody said so in time."""

    def __init__(self, in_time: bool) -> None:
        super().__init__("no address" if in_time else "no answer in time")
        self.in_time = in_time


def looked_up(host: str, port: int, seconds: float) -> Sequence[IPv4Address | IPv6Address]:
    """Every address of a host, each once, in the order in which they are to be tried (RFC 6724).

    Raises:  LookedUpInVain.
    """
    found, done = list[str](), Event()

    def look() -> None:
        try:
            found.extend(_asked(host, port))
        finally:
            PLACES.release()
            done.set()

    until = monotonic() + max(seconds, 0)
    if not PLACES.acquire(timeout=max(seconds, 0)):
        raise LookedUpInVain(in_time=False)
    try:
        Thread(target=look, name="look-up", daemon=True).start()
    except RuntimeError:  # the system has no more threads to give
        PLACES.release()
        raise LookedUpInVain(in_time=False) from None
    if not done.wait(until - monotonic()):
        raise LookedUpInVain(in_time=False)
    if not found:
        raise LookedUpInVain(in_time=True)
    return tuple(map(ip_address, dict.fromkeys(found)))


def _asked(host: str, port: int) -> list[str]:
    """What the system says. The name goes as bytes: as text it would be encoded again, into another name."""
    try:
        answers = socket.getaddrinfo(host.encode("ascii"), port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        return []
    return [str(answer[4][0]) for answer in answers]
