"""A receiver of webhooks for tests: a real HTTP server on the loopback that does as it is told and keeps every request.

    with a_receiver() as receiver:
        receiver.will(answers(500), hangs(), redirects("/elsewhere"), ok())    # one a request; the last one stays
        ... somebody posts to receiver.url ...
        first, *others = receiver.wait_for(4)
        assert first.fields["webhook-id"] == others[0].fields["webhook-id"]

It answers every method and every path, so that a redirect that was followed shows as one more request. `port` lets one
come back where another has gone; `tls` makes it speak TLS, and note the names that were asked for in the handshake.
What hangs or drips ends when the receiver is closed, or when the other side has gone.
"""

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from email.message import Message
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

PATH = "/hook"


@dataclass(frozen=True)
class Received:
    """One request as it came; its fields are found by any case of the name.

    Units:   `at` in seconds of the monotonic clock.
    """

    method: str
    path: str
    fields: Message
    body: bytes
    at: float


Behaviour = Callable[["Answering"], None]
"""What is done with a request once it is read and kept."""


def ok() -> Behaviour:
    """Takes it: 204."""
    return answers(204)


def gone() -> Behaviour:
    """Wants no more of it: 410."""
    return answers(410)


def answers(status: int, body: bytes = b"", **fields: str) -> Behaviour:
    """A status, with header fields written with underscores: `answers(429, retry_after="7")`."""
    return lambda answering: answering.whole(status, {name.replace("_", "-"): text for name, text in fields.items()},
                                             body)


def redirects(to: str, status: int = 302) -> Behaviour:
    return answers(status, location=to)


def hangs(seconds: float = 3_600) -> Behaviour:
    """Says nothing for so long, then takes it."""

    def behaviour(answering: "Answering") -> None:
        answering.pause(seconds)
        answering.whole(204, {}, b"")

    return behaviour


def hangs_up() -> Behaviour:
    """Closes the connection without a word."""
    return lambda answering: None


def says(raw: bytes) -> Behaviour:
    """These bytes, whatever they are, and then closes."""
    return lambda answering: answering.say(raw)


def drips(start: bytes, drop: bytes, every_seconds: float = 0.2) -> Behaviour:
    """These bytes at once, then a drop every so often, without an end."""

    def behaviour(answering: "Answering") -> None:
        answering.say(start)
        while answering.pause(every_seconds):
            answering.say(drop)

    return behaviour


def drips_in_the_header(every_seconds: float = 0.2) -> Behaviour:
    return drips(b"HTTP/1.1 200 OK\r\nX-Slow: ", b"a", every_seconds)


def drips_in_the_body(every_seconds: float = 0.2) -> Behaviour:
    return drips(b"HTTP/1.1 200 OK\r\nContent-Length: 100000\r\n\r\n", b"a", every_seconds)


def pours(start: bytes = b"HTTP/1.1 200 OK\r\n\r\n") -> Behaviour:
    """A body that never ends, as fast as it is taken."""
    return drips(start, b"a" * 65_536, 0)


class Answering(BaseHTTPRequestHandler):
    """One connection. The names are those of the standard library, the rest is what behaviours are made of."""

    protocol_version = "HTTP/1.1"
    server: "_Server"

    def handle_any(self) -> None:
        receiver, self.close_connection = self.server.receiver, True
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        behaviour = receiver.keep(Received(self.command, self.path, self.headers, body, time.monotonic()))
        with suppress(OSError):
            behaviour(self)

    do_GET = do_HEAD = do_POST = do_PUT = do_DELETE = do_OPTIONS = handle_any  # noqa: N815

    def whole(self, status: int, fields: Mapping[str, str], body: bytes) -> None:
        self.send_response(status)
        for name, text in fields.items():
            self.send_header(name, text)
        if status != 204:
            self.send_header("Content-Length", str(len(body)))
        self.send_header("Connection", "close")
        self.end_headers()
        self.say(body)

    def say(self, raw: bytes) -> None:
        self.wfile.write(raw)
        self.wfile.flush()
        self.server.receiver.said += len(raw)

    def pause(self, seconds: float) -> bool:
        """Waits; False once the receiver is closed."""
        return not self.server.receiver.closing.wait(seconds)

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing on the screen."""


class Receiver:
    """A receiver that is listening. Shape: `url` begins with https where it was given TLS."""

    def __init__(self, port: int = 0, tls: ssl.SSLContext | None = None) -> None:
        self.requests: list[Received] = []
        self.names_asked_for: list[str | None] = []
        self.connections = self.said = 0
        self.closing = threading.Event()
        self._turns: list[Behaviour] = [ok()]
        self._changed = threading.Condition()
        if tls is not None:
            tls.sni_callback = lambda _socket, name, _context: self.names_asked_for.append(name)
        self._server = _Server(self, port, tls)
        self.port = self._server.server_address[1]
        self.url = f"{'https' if tls else 'http'}://127.0.0.1:{self.port}{PATH}"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,))
        self._thread.start()

    def will(self, *behaviours: Behaviour) -> None:
        """From now on: these, one a request in their order; the last one for all that follow."""
        with self._changed:
            self._turns = list(behaviours)

    def keep(self, received: Received) -> Behaviour:
        with self._changed:
            self.requests.append(received)
            self._changed.notify_all()
            return self._turns.pop(0) if len(self._turns) > 1 else self._turns[0]

    def wait_for(self, count: int, seconds: float = 20) -> list[Received]:
        """The requests, as soon as there are so many; fails when they do not come in time."""
        with self._changed:
            came = self._changed.wait_for(lambda: len(self.requests) >= count, seconds)
            assert came, f"{len(self.requests)} requests came within {seconds} s, not {count}"
            return list(self.requests)

    def close(self) -> None:
        self.closing.set()
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()


class _Server(ThreadingHTTPServer):
    request_queue_size = 128

    def __init__(self, receiver: Receiver, port: int, tls: ssl.SSLContext | None) -> None:
        self.receiver, self._tls = receiver, tls
        super().__init__(("127.0.0.1", port), Answering)

    def get_request(self) -> tuple[Any, Any]:
        """Each connection shakes hands in its own thread, so that one that does not cannot stop the others."""
        connection, peer = super().get_request()
        self.receiver.connections += 1
        if self._tls is not None:
            connection = self._tls.wrap_socket(connection, server_side=True, do_handshake_on_connect=False)
        return connection, peer

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Nothing on the screen: a handshake that the other side broke off is what some tests are about."""


@contextmanager
def nobody_takes(host: str, port: int) -> Iterator[None]:
    """A place where connecting hangs: it listens, what it keeps waiting is full, and nobody takes any of it."""
    with ExitStack() as kept:
        place = kept.enter_context(socket.socket())
        place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        place.bind((host, port))
        place.listen(0)
        for _ in range(4):
            waiting = kept.enter_context(socket.socket())
            waiting.setblocking(False)
            waiting.connect_ex((host, port))
        yield


@contextmanager
def a_receiver(port: int = 0, tls: ssl.SSLContext | None = None) -> Iterator[Receiver]:
    receiver = Receiver(port, tls)
    try:
        yield receiver
    finally:
        receiver.close()
