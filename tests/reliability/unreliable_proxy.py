"""A proxy in user space that loses things, on a seed: requests, answers, connections half way.

Of the connections, so many in a hundred have their request dropped (nothing reaches the service), their answer dropped
(the effect is there, nobody hears of it), a part of their request or answer cut off, or are reset at once. Each
connection carries one request: a client that keeps none open meets its fate anew with every try.
"""

import contextlib
import random
import socket
import struct
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urlsplit

FATES = {"dropped request": 10, "dropped answer": 10, "cut request": 3, "cut answer": 2, "reset": 5}
"""Of a hundred connections."""
LONGEST_WAIT = 30


@dataclass
class UnreliableProxy:
    """It listens, and passes on what it does not lose. `came` counts the fates."""

    upstream: str
    seed: int
    address: str = ""
    came: Counter[str] = field(default_factory=Counter)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        parts = urlsplit(self.upstream)
        self.there = (parts.hostname or "", parts.port or 0)

    def serve(self, listening: socket.socket) -> None:
        while True:
            try:
                client, _ = listening.accept()
            except OSError:
                return
            threading.Thread(target=self._pass_on, args=(client, self._fate()), daemon=True).start()

    def _fate(self) -> str:
        with self.lock:
            fate = self.chance.choices([*FATES, "passed"], [*FATES.values(), 100 - sum(FATES.values())])[0]
            self.came[fate] += 1
        return fate

    def _pass_on(self, client: socket.socket, fate: str) -> None:
        with client, contextlib.suppress(OSError):
            client.settimeout(LONGEST_WAIT)
            request = _whole_message(client)
            if fate == "dropped request":
                return
            if fate == "reset":
                client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                return
            with socket.create_connection(self.there, LONGEST_WAIT) as service:
                service.sendall(request if fate != "cut request" else request[:len(request) - len(request) // 3])
                if fate == "cut request":
                    return
                answer = _until_closed(service)
            if fate != "dropped answer":
                client.sendall(answer if fate != "cut answer" else answer[:len(answer) // 2])


def _whole_message(source: socket.socket) -> bytes:
    """A request with its body, by its Content-Length; asks the service to close afterwards."""
    held = b""
    while b"\r\n\r\n" not in held:
        part = source.recv(65536)
        if not part:
            raise OSError("the client went away")
        held += part
    head, _, body = held.partition(b"\r\n\r\n")
    fields = [line for line in head.split(b"\r\n") if not line.lower().startswith(b"connection:")]
    length = next((int(line.split(b":")[1]) for line in fields if line.lower().startswith(b"content-length:")), 0)
    while len(body) < length:
        part = source.recv(65536)
        if not part:
            raise OSError("the client went away")
        body += part
    return b"\r\n".join([*fields, b"Connection: close", b"", b""]) + body


def _until_closed(source: socket.socket) -> bytes:
    return b"".join(iter(lambda: source.recv(65536), b""))


@contextlib.contextmanager
def unreliable_proxy(upstream: str, seed: int) -> Iterator[UnreliableProxy]:
    """A proxy before a service, until the block is left."""
    with socket.create_server(("127.0.0.1", 0), backlog=128) as listening:
        proxy = UnreliableProxy(upstream, seed, f"http://127.0.0.1:{listening.getsockname()[1]}")
        thread = threading.Thread(target=proxy.serve, args=(listening,), daemon=True)
        thread.start()
        try:
            yield proxy
        finally:
            with contextlib.suppress(OSError):
                listening.shutdown(socket.SHUT_RDWR)
            thread.join(10)
