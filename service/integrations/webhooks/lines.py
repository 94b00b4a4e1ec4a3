"""One connection to an address that was checked, on which every step ends by a deadline and only so much is read.

The address is a number: nothing is looked up here. TLS is spoken to the name, not to the address: the name is in SNI,
and the certificate must be the name's. After connecting, the other end is held to the address once more.
"""

import io
import socket
import ssl
from collections.abc import Sequence
from contextlib import suppress
from ipaddress import ip_address
from typing import Any

from service.integrations.webhooks.addresses import Address
from service.integrations.webhooks.deadline import Deadline

MOST_ADDRESSES = 4


class AnswerTooLong(OSError):
    """More came than is read of an answer."""


class AnotherPeer(Exception):
    """The connection leads elsewhere than to the address it was made to."""


class Line:
    """A connection as `http.client` uses one: it sends, and is read as a file."""

    def __init__(self, connection: socket.socket, deadline: Deadline, most_bytes: int) -> None:
        self._connection, self._deadline, self._bytes_left = connection, deadline, most_bytes
        self._reading = _Reading(_Incoming(self))

    def sendall(self, data: bytes) -> None:
        """Send all of it. Each part has what is left of the time, however little the other side takes at once."""
        rest = memoryview(data)
        while rest:
            self._connection.settimeout(self._deadline.left())
            rest = rest[self._connection.send(rest):]

    def receive_into(self, buffer: memoryview) -> int:
        """Read what has come, at least a byte of it; 0 at the end.

        Raises:  TimeoutError; AnswerTooLong.
        """
        if not self._bytes_left:
            raise AnswerTooLong("more of an answer than is read")
        self._connection.settimeout(self._deadline.left())
        count = self._connection.recv_into(buffer[:self._bytes_left])
        self._bytes_left -= count
        return count

    def makefile(self, *_mode: str) -> io.BufferedReader:
        """The same file each time: what is read ahead of one answer belongs to the next."""
        return self._reading

    def close(self) -> None:
        self._connection.close()


class _Reading(io.BufferedReader):
    def close(self) -> None:
        """Nothing: who reads an answer closes its file, and another answer may follow. The line ends the connection."""


class _Incoming(io.RawIOBase):
    def __init__(self, line: Line) -> None:
        self._line = line

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        return self._line.receive_into(memoryview(buffer).cast("B"))


def connected(address: Address, port: int, deadline: Deadline, seconds: float) -> socket.socket:
    """A connection to this very address.

    Raises:  OSError, of which TimeoutError; AnotherPeer.
    """
    family = socket.AF_INET if address.version == 4 else socket.AF_INET6
    connection = socket.socket(family, socket.SOCK_STREAM)
    try:
        connection.settimeout(deadline.left(at_most=seconds))
        connection.connect((str(address), port))
        if ip_address(connection.getpeername()[0]) != address:
            raise AnotherPeer("connected to another address than the one that was checked")
    except BaseException:
        connection.close()
        raise
    return connection


def connected_to_one_of(addresses: Sequence[Address], port: int, deadline: Deadline, seconds: float) -> socket.socket:
    """A connection to the first of the addresses that takes it; the last one's failure where none does."""
    *others, last = addresses[:MOST_ADDRESSES]
    for address in others:
        with suppress(OSError):
            return connected(address, port, deadline, seconds)
    return connected(last, port, deadline, seconds)


def spoken_to(connection: socket.socket, name: str, tls: ssl.SSLContext, deadline: Deadline) -> ssl.SSLSocket:
    """The connection in TLS, with a certificate that is this name's.

    Raises:  OSError, of which ssl.SSLError and TimeoutError.
    """
    try:
        connection.settimeout(deadline.left())
        return tls.wrap_socket(connection, server_hostname=name)
    except BaseException:
        connection.close()
        raise
