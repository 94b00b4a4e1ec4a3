"""Stopping without losing a request: what gunicorn's master and workers do beyond their own when SIGTERM comes.

On SIGTERM the master first lets the service *leave*, for the seconds that it is told: /health/ready fails, waiters are
sent away, every answer says `Connection: close`, and everything is served on, so that whoever spreads requests over
services turns to another. Then it *closes*: no new connection comes about, those that the system made already are
taken and answered, and only then is the socket closed. Without seconds, or at a second SIGTERM, it closes at once.

A connection of which a worker has read nothing is reset when the last socket that listens is closed, whatever the
client has sent: gunicorn's own workers stop accepting and keep that socket open until they end, seconds later. Here
each takes what is there and closes its own. Between the two there is no gap: the master first has the system drop
requests for new connections (SYN), which clients send again after a second, and are then refused at once.

Source:  gunicorn 27.0.1, arbiter.py and workers/gthread.py; RFC 9112 section 9.6 for `Connection: close`; RFC 6298
         section 2.1 for the second; socket(7), SO_ATTACH_FILTER, and Linux's net/ipv4/tcp_ipv4.c, which hands the
         filter a segment that begins with its TCP header.
"""

import contextlib
import ctypes
import mmap
import signal
import socket
import struct
import time
from typing import Any

from gunicorn.arbiter import Arbiter
from gunicorn.workers.gthread import ThreadWorker

_SERVING, _LEAVING, _CLOSING = 0, 1, 2
_SO_ATTACH_FILTER = 26
_DROP_SYN = (  # (code, if true, if false, operand) of classic BPF
    (0x30, 0, 0, 13),  # load the byte of flags
    (0x45, 0, 1, 0x02),  # is SYN among them?
    (0x06, 0, 0, 0),  # then keep nothing of the segment
    (0x06, 0, 0, 0xFFFFFFFF),  # else all of it
)
HANDSHAKE_SECONDS = 0.05
"""How long a worker waits for connections that were being made when SYN were dropped: a round trip nearby."""


class Stopping:
    """How far the service has stopped, in a byte that the master shares with the workers that it forks."""

    def __init__(self) -> None:
        self._shared = mmap.mmap(-1, 1)

    @property
    def has_begun(self) -> bool:
        """Whether it leaves or closes."""
        return self._shared[0] != _SERVING

    @property
    def is_closing(self) -> bool:
        """Whether no new connection comes any more."""
        return self._shared[0] == _CLOSING

    def leave(self) -> None:
        """Say that it leaves."""
        self._shared[0] = _LEAVING

    def close(self) -> None:
        """Say that it closes."""
        self._shared[0] = _CLOSING


class LeavingArbiter(Arbiter):  # type: ignore[misc]
    """A master that leaves before it closes. The application has `stopping` and `drain_seconds`."""

    def init_signals(self) -> None:
        """As gunicorn's; the end of leaving is a SIGTERM from a timer, which no fork inherits."""
        super().init_signals()
        signal.signal(signal.SIGALRM, lambda _signal, _frame: self.SIG_QUEUE.put_nowait(signal.SIGTERM))

    def handle_term(self) -> None:
        """Leave first, if there is time for it, and go on; else close."""
        if self.app.drain_seconds and not self.app.stopping.has_begun:
            self.app.stopping.leave()
            signal.setitimer(signal.ITIMER_REAL, self.app.drain_seconds)
            return
        signal.setitimer(signal.ITIMER_REAL, 0)
        super().handle_term()

    def stop(self, graceful: bool = True) -> None:
        """As gunicorn's, after no new connection comes about."""
        if graceful:
            self.app.stopping.close()
            for listener in self.LISTENERS:
                refuse_new_connections(listener.sock)
        super().stop(graceful)


class LeavingWorker(ThreadWorker):  # type: ignore[misc]
    """A worker that answers whoever the system has connected already, before it stops listening."""

    def set_accept_enabled(self, enabled: bool) -> None:
        """As gunicorn's; at the end of the service also take what is there, and close."""
        super().set_accept_enabled(enabled)
        if enabled or self.alive:
            return
        self.app.starting.gone(self)
        if self.app.stopping.is_closing:
            time.sleep(HANDSHAKE_SECONDS)
            for listener in self.sockets:
                self._take_who_is_connected(listener)
                listener.close()

    def _take_who_is_connected(self, listener: Any) -> None:
        listener.setblocking(False)
        before = -1
        while self.nr_conns != before:
            before = self.nr_conns
            self.accept(listener)


def close_after_answer(worker: Any, request: Any) -> None:
    """Gunicorn's hook before a request: once the service leaves, its answer is the last on its connection."""
    if worker.app.stopping.has_begun:
        request.force_close()


def refuse_new_connections(listener: socket.socket) -> None:
    """Have the system drop what would begin a connection; who is connected, or nearly, is not disturbed.

    Where the system has no such filter (it is Linux's), the gap between the last look and closing stays.
    """
    if listener.family not in (socket.AF_INET, socket.AF_INET6):
        return
    program = ctypes.create_string_buffer(b"".join(struct.pack("HBBI", *each) for each in _DROP_SYN))
    told = struct.pack("HP", len(_DROP_SYN), ctypes.addressof(program))
    with contextlib.suppress(OSError):
        listener.setsockopt(socket.SOL_SOCKET, _SO_ATTACH_FILTER, told)
