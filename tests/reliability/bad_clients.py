"""Bad clients: half-sent requests, silence, trickles, bad chunks, cut bodies, resets, answers that nobody reads.

Raw sockets against the server as `seamcost serve` starts it, while a till polls. What must hold: the till is served
throughout; no answer of 5xx but 501 for a transfer coding that is not known and 505 for a version that is none; a
request that did not come whole records nothing; nobody gets another's answer; descriptors and threads of the workers
come back. Against as many half-sent requests as there are threads a server of threads can only wait until it hangs up
on their silence: that case says for how long the till waited, and holds it to the server's own bound. A trickle is
silent never: behind the proxy of docker/ no half of a request reaches the workers at all.

Source: RFC 9112 sections 2.2 (framing of the message), 6.1 to 6.3 (lengths), 7.1 (chunks), 9.3 (pipelining); RFC 9110
section 10.1.1 (Expect).
"""

import contextlib
import os
import re
import socket
import struct
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from urllib.parse import urlsplit

import requests

from service.cli.gunicorn_server import SECONDS_OF_SILENCE
from service.settings import Settings
from tests.docker.proxy import running_proxy
from tests.launching import alive, children_of, launcher, stopped
from tests.reliability.programme import Programme, Run, Verdict
from tests.stories.running_service import a_key

WORKERS, THREADS = 2, 16
AT_ONCE = 6
"""How many kinds misbehave at a time: they hold fewer threads than one worker has."""

MOST_HELD = WORKERS * (20 + 5 * THREADS), WORKERS * (THREADS + 4)
"""Descriptors and threads of all workers: each thread has its connections to the database, and no more."""

BODY = b'{"name": "Mill"}'
NOT_KNOWN = (501, 505)
"""Refusals of what a server does not know, though their number begins with a 5."""

THROUGH_PROXY = "SEAMCOST_THROUGH_PROXY"
PATIENCE = 5.0
BUSY = 15.0
"""What a busy machine may add to the server's patience before it hangs up."""
COMES_BACK_WITHIN = 20.0
_GROWTH = 8
_RESET = struct.pack("ii", 1, 0)


@dataclass
class Served:
    """The server as it is shipped, and what a test of it needs."""

    address: str
    key: str
    group: int
    proxied: bool = False

    @property
    def patience(self) -> float:
        """How long one may be silent at most: the proxy waits half as long again for a body."""
        return (1.5 if self.proxied else 1) * SECONDS_OF_SILENCE

    @property
    def place(self) -> tuple[str, int]:
        parts = urlsplit(self.address)
        return str(parts.hostname), int(parts.port or 80)

    def connect(self) -> socket.socket:
        return socket.create_connection(self.place, timeout=PATIENCE)

    def put(self, code: str, *fields: str) -> bytes:
        """The head of a request that would record a supplier."""
        lines = [f"PUT /v1/suppliers/{code} HTTP/1.1", "Host: kitchen", f"Authorization: Bearer {self.key}",
                 "Content-Type: application/json", *fields, "", ""]
        return "\r\n".join(lines).encode("latin-1")

    def asked(self, path: str) -> requests.Response:
        return requests.get(self.address + path, headers={"Authorization": f"Bearer {self.key}"}, timeout=60)

    def revision(self) -> int:
        found: int = self.asked("/v1/changes?limit=1").json()["revision"]
        return found

    def held(self) -> tuple[int, int]:
        """Descriptors and threads of all workers."""
        pids = children_of(self.group)
        return (sum(len(list(Path(f"/proc/{pid}/fd").iterdir())) for pid in pids),
                sum(len(list(Path(f"/proc/{pid}/task").iterdir())) for pid in pids))


class Till(threading.Thread):
    """Polls, on a fresh connection each time, and keeps what went wrong and how long the slowest poll took."""

    def __init__(self, served: Served) -> None:
        super().__init__(daemon=True)
        self._served, self._ended = served, threading.Event()
        self.polls, self.slowest, self.faults = 0, 0.0, list[str]()

    def run(self) -> None:
        while not self._ended.wait(0.1):
            begun = time.monotonic()
            try:
                answer = self._served.asked("/v1/dish-costs?limit=1")
                if answer.status_code != 200:
                    self.faults.append(f"a poll was answered {answer.status_code}")
            except requests.RequestException as fault:
                self.faults.append(f"a poll was not answered: {fault}")
            self.polls += 1
            self.slowest = max(self.slowest, time.monotonic() - begun)

    def end(self) -> None:
        self._ended.set()
        self.join(90)


Case = Callable[[Served, str], Iterator[str]]
"""Does one thing wrong, under a code of its own, and yields what was wrong about what came of it."""


def framing(*fields: str, body: bytes = BODY, statuses: tuple[int, ...] = (400,), stored: bool = False,
            head: Callable[[bytes], bytes] = lambda head: head, ends: bool = False) -> Case:
    """A request whose framing is as given: one of the statuses, or no answer where it is bad; and recorded or not."""

    def case(served: Served, code: str) -> Iterator[str]:
        with served.connect() as connection:
            with contextlib.suppress(OSError):
                connection.sendall(head(served.put(code, *fields, "Connection: close")) + body)
                if ends:
                    connection.shutdown(socket.SHUT_WR)
            answers = statuses_of(everything(connection))
        kept = served.asked(f"/v1/suppliers/{code}").status_code == 200
        if served.proxied:
            if kept != (201 in answers) or any(status >= 500 and status not in NOT_KNOWN for status in answers):
                yield f"answered {answers}, recorded: {kept}"
            return
        if (answers[:1] and answers[0] not in statuses) or (stored and not answers):
            yield f"answered {answers}, not one of {statuses}"
        if any(status >= 500 and status not in NOT_KNOWN for status in answers[1:]):
            yield f"answered {answers}"
        if kept != stored:
            yield f"recorded: {kept}"

    return case


def everything(connection: socket.socket) -> bytes:
    """What comes until the other end closes or says no more for a while."""
    pieces = []
    connection.settimeout(PATIENCE)
    with contextlib.suppress(OSError):
        while piece := connection.recv(65_536):
            pieces.append(piece)
    return b"".join(pieces)


def statuses_of(answers: bytes) -> list[int]:
    """The statuses of the answers in a stream, in their order."""
    return [int(piece[:3]) for piece in answers.split(b"HTTP/1.1 ")[1:] if piece[:3].isdigit()]


def goes_silent(*, after: Callable[[Served, str], bytes], many: int, turns: int = 1) -> Case:
    """So many connections that send a part of a request and then nothing; gone after the server's patience."""

    def case(served: Served, code: str) -> Iterator[str]:
        open_ones = [served.connect() for _ in range(many)]
        try:
            for connection in open_ones:
                connection.sendall(after(served, code))
            begun = time.monotonic()
            for connection in open_ones:
                connection.settimeout(max(0.1, begun + turns * (served.patience + BUSY) - time.monotonic()))
                try:
                    while connection.recv(65_536):
                        pass
                except TimeoutError:
                    yield f"still open after {turns} x {served.patience} s of silence"
                    break
                except OSError:
                    pass
        finally:
            for connection in open_ones:
                connection.close()
        if served.asked(f"/v1/suppliers/{code}").status_code != 404:
            yield "recorded, from half a request"

    return case


def trickles(served: Served, code: str) -> Iterator[str]:
    """One byte at a time: slow, and whole in the end."""
    with served.connect() as connection:
        for at in range(len(BODY)):
            if at == 0:
                connection.sendall(served.put(code, f"Content-Length: {len(BODY)}"))
            connection.sendall(BODY[at:at + 1])
            time.sleep(0.1)
        if statuses_of(everything(connection)) != [201]:
            yield "a slow request that came whole was not answered 201"


def resets(served: Served, code: str) -> Iterator[str]:
    """Connections reset: in the head, in the body, before the answer, amid a large answer."""
    whole = served.put(code, f"Content-Length: {len(BODY)}")
    large = (f"GET /v1/workbook.xlsx HTTP/1.1\r\nHost: kitchen\r\nAuthorization: Bearer {served.key}\r\n\r\n").encode()
    for sent, reads in ((whole[:40], 0), (whole + BODY[:5], 0), (large, 0), (large, 10), (large * 5, 100)):
        connection = served.connect()
        with contextlib.suppress(OSError):
            connection.sendall(sent)
            if reads:
                connection.recv(reads)
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _RESET)
        connection.close()
    if served.asked(f"/v1/suppliers/{code}").status_code != 404:
        yield "recorded, from half a request"


def never_reads(served: Served, code: str) -> Iterator[str]:
    """Asks for much, many times over, and never reads an answer."""
    connections = []
    for _ in range(3):
        connection = socket.socket()
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4_096)
        connection.settimeout(PATIENCE)
        connection.connect(served.place)
        with contextlib.suppress(OSError):
            connection.sendall((f"GET /openapi.json HTTP/1.1\r\nHost: kitchen\r\nAuthorization: Bearer {served.key}\r\n"
                                "\r\n").encode() * 20)
        connections.append(connection)
    answer = served.asked("/v1/suppliers")
    if answer.status_code != 200:
        yield f"others are answered {answer.status_code}"
    time.sleep(SECONDS_OF_SILENCE)
    for connection in connections:
        connection.close()


def pipelines(served: Served, code: str) -> Iterator[str]:
    """Three requests at once: each is answered, in order, and each by its own answer."""
    asked = [f"GET /v1/suppliers/{code}-{number} HTTP/1.1\r\nHost: kitchen\r\nAuthorization: Bearer {served.key}\r\n"
             "\r\n" for number in range(3)]
    with served.connect() as connection:
        connection.sendall("".join(asked).encode())
        answers = everything(connection)
    places = [answers.find(f"/v1/suppliers/{code}-{number}".encode()) for number in range(3)]
    found = [place for place in places if place >= 0]
    if statuses_of(answers) != [404] * len(found) or found != sorted(found) or not found:
        yield f"pipelined requests were answered {statuses_of(answers)} at {places}"


def smuggles(served: Served, code: str) -> Iterator[str]:
    """A second request hidden behind one whose length can be read in two ways is never carried out."""
    hidden = served.put(f"{code}-hidden", f"Content-Length: {len(BODY)}") + BODY
    for fields, body in (
            (("Content-Length: 6", "Transfer-Encoding: chunked"), b"0\r\n\r\n" + hidden),
            (("Transfer-Encoding: chunked", "Content-Length: 6"), b"0\r\n\r\n" + hidden),
            (("Transfer-Encoding: xchunked", f"Content-Length: {len(BODY)}"), BODY + hidden),
            (("Transfer-Encoding : chunked", f"Content-Length: {len(BODY)}"), BODY + hidden),
            (("Transfer-Encoding:\x0bchunked", f"Content-Length: {len(BODY)}"), BODY + hidden),
            (("Content-Length: 0", f"Content-Length: {len(BODY)}"), hidden),
            (("Content_Length: 0", "Content-Length: +5"), hidden)):
        with served.connect() as connection, contextlib.suppress(OSError):
            connection.sendall(served.put(code, *fields) + body)
            everything(connection)
        if served.asked(f"/v1/suppliers/{code}-hidden").status_code != 404:
            yield f"carried out what was hidden behind {fields}"
            return


def expects_and_is_silent(served: Served, code: str) -> Iterator[str]:
    """Expect: 100-continue, and then no body."""
    with served.connect() as connection:
        connection.sendall(served.put(code, f"Content-Length: {len(BODY)}", "Expect: 100-continue"))
        everything(connection)
    if served.asked(f"/v1/suppliers/{code}").status_code != 404:
        yield "recorded, without a body"


def _chunked(chunks: bytes, **how: object) -> Case:
    return framing("Transfer-Encoding: chunked", body=chunks, **how)  # type: ignore[arg-type]


_CHUNK = b"10\r\n" + BODY + b"\r\n"
_LENGTH = f"Content-Length: {len(BODY)}"
CASES: dict[str, Case] = {
    "whole": framing(_LENGTH, statuses=(201,), stored=True),
    "length too long, then closed": framing("Content-Length: 99", ends=True),
    "length too short": framing("Content-Length: 5"),
    "length twice, alike": framing(_LENGTH, _LENGTH),
    "length twice, unlike": framing(_LENGTH, "Content-Length: 5"),
    "length below zero": framing("Content-Length: -1"), "length with a plus": framing("Content-Length: +16"),
    "length no number": framing("Content-Length: 1e1"), "length in hex": framing("Content-Length: 0x10"),
    "length of 400 digits": framing("Content-Length: " + "9" * 400, statuses=(400, 413)),
    "length in other digits": framing("Content-Length: \xb2", statuses=(400,)),
    "no length": framing(statuses=(400, 411)),
    "coding not known": framing("Transfer-Encoding: gzip", statuses=(400, 501)),
    "coding twice": framing("Transfer-Encoding: chunked, chunked", statuses=(400, 501), body=_CHUNK + b"0\r\n\r\n"),
    "coding not last": framing("Transfer-Encoding: chunked, gzip", statuses=(400, 501), body=_CHUNK + b"0\r\n\r\n"),
    "chunks": _chunked(_CHUNK + b"0\r\n\r\n", statuses=(201,), stored=True),
    "chunks with an extension": _chunked(b"10;a=b\r\n" + BODY + b"\r\n0\r\n\r\n", statuses=(201, 400), stored=True),
    "chunks and a trailer": _chunked(_CHUNK + b"0\r\nX-Trailer: 1\r\n\r\n", statuses=(201,), stored=True),
    "a trailer that would be a key": _chunked(_CHUNK + b"0\r\nContent-Length: 5\r\n\r\n"),
    "chunk size no number": _chunked(b"xyz\r\n" + BODY + b"\r\n0\r\n\r\n"),
    "chunk size below zero": _chunked(b"-10\r\n" + BODY + b"\r\n0\r\n\r\n"),
    "chunk size with 0x": _chunked(b"0x10\r\n" + BODY + b"\r\n0\r\n\r\n"),
    "chunk size with a line feed alone": _chunked(b"10\n" + BODY + b"\n0\n\n"),
    "chunk size of 400 digits": _chunked(b"1" * 400 + b"\r\n" + BODY, ends=True),
    "chunk size huge": _chunked(b"ffffffffffffffff\r\n" + BODY, ends=True),
    "chunk longer than it says": _chunked(b"5\r\n" + BODY + b"\r\n0\r\n\r\n"),
    "chunk shorter than it says": _chunked(b"20\r\n" + BODY + b"\r\n0\r\n\r\n", ends=True),
    "no last chunk": _chunked(_CHUNK, ends=True),
    "two hosts": framing("Host: other", _LENGTH), "a field name with a blank": framing("X Y: 1", _LENGTH),
    "a field without a colon": framing("nothing", _LENGTH), "a folded field": framing("X-A: 1", " 2", _LENGTH),
    "a field with NUL": framing("X-A: a\x00b", _LENGTH),
    "an underscore in a field": framing("Content_Length: 5", _LENGTH),
    "51 fields": framing(*(f"X-{number}: 1" for number in range(51)), _LENGTH, statuses=(400, 431)),
    "a field of 9 kB": framing("X-Long: " + "a" * 9_000, _LENGTH, statuses=(400, 431)),
    "fields without end": framing(*(f"X-{number}: {'a' * 8_000}" for number in range(49)), _LENGTH, statuses=(400,
        431)),
    "a line of 9 kB": framing(_LENGTH, statuses=(400, 414), head=lambda head: head.replace(b" HTTP",
        b"?" + b"a" * 9_000 + b" HTTP")),
    "a version that is none": framing(_LENGTH, statuses=(400, 505), head=lambda head: head.replace(b"HTTP/1.1",
        b"HTTP/9.9")),
    "no version": framing(_LENGTH, head=lambda head: head.replace(b" HTTP/1.1", b"")),
    "a method that is none": framing(_LENGTH, statuses=(400, 405, 501), head=lambda head: head.replace(b"PUT", b"P U")),
    "not HTTP": framing(_LENGTH, head=lambda head: b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + head),
    "lines that end in a line feed alone": framing(_LENGTH, statuses=(400,), head=lambda head: head.replace(b"\r\n",
        b"\n")),
    "a preface of HTTP/2": framing(_LENGTH, head=lambda head: b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + head,
                                   statuses=(400, 404, 405, 505)),
    "trickle": trickles, "resets": resets, "pipelined": pipelines, "smuggled": smuggles,
    "expects and is silent": expects_and_is_silent,
    "half a head, silent": goes_silent(after=lambda served, code: served.put(code)[:60], many=3),
    "half a body, silent": goes_silent(after=lambda served, code: served.put(code, _LENGTH) + BODY[:5], many=3),
    "half a chunk, silent": goes_silent(after=lambda served, code: served.put(
        code, "Transfer-Encoding: chunked") + _CHUNK[:9], many=3, turns=2),
    "never reads": never_reads,
}
"""Every kind of bad client, by what it does."""

ALL_THREADS: dict[str, Case] = {
    "as many half requests as threads": goes_silent(
        after=lambda served, code: served.put(code, _LENGTH) + BODY[:5], many=WORKERS * THREADS + 4, turns=4)}
"""What the server can only sit out: the till waits, for no longer than the server's patience."""


def bad_clients(run: Run) -> Verdict:
    """Let every kind misbehave, while a till polls: the first of them, where a run has fewer cases than there are."""
    faults: list[str] = []
    done, polls, slowest, held = 0, 0, [0.0, 0.0], list[tuple[int, int]]()
    with shipped_server(run) as served:
        held_up = 1 if served.proxied else 4
        kinds = dict(islice(CASES.items(), run.cases))
        phases = ((kinds, AT_ONCE, SECONDS_OF_SILENCE), (ALL_THREADS, 1, held_up * SECONDS_OF_SILENCE))
        for turn in range(max(1, run.cases // len(CASES))):
            for phase, (cases, at_once, most) in enumerate(phases[:2 if run.cases > len(CASES) else 1]):
                if not run.in_time:
                    break
                till = Till(served)
                till.start()
                faults += _all(served, cases, f"t{turn}", at_once)
                till.end()
                done, polls, slowest[phase] = done + len(cases), polls + till.polls, max(slowest[phase], till.slowest)
                faults += till.faults[:3]
                if till.slowest > most:
                    faults.append(f"a poll took {till.slowest:.1f} s")
            held.append(_come_back(served, faults))
    if max(held)[0] > held[0][0] + _GROWTH:
        faults.append(f"descriptors and threads grow from round to round: {held}")
    return Verdict(done, tuple(faults), {
        "kinds": len(CASES) + len(ALL_THREADS), "polls": polls, "the till's slowest poll": f"{slowest[0]:.1f} s",
        "the same while all threads were held": f"{slowest[1]:.1f} s", "descriptors and threads": held[-1]})


def _all(served: Served, cases: Mapping[str, Case], turn: str, at_once: int) -> list[str]:
    def one(numbered: tuple[int, str]) -> list[str]:
        number, name = numbered
        return [f"{name}: {fault}" for fault in cases[name](served, f"{turn}-{at_once}-{number}")]

    with ThreadPoolExecutor(at_once) as pool:
        return [fault for found in pool.map(one, enumerate(cases)) for fault in found]


def _come_back(served: Served, faults: list[str]) -> tuple[int, int]:
    """What the workers hold once the bad clients have gone."""
    until = time.monotonic() + COMES_BACK_WITHIN
    while time.monotonic() < until:
        descriptors, threads = served.held()
        if descriptors <= MOST_HELD[0] and threads <= MOST_HELD[1]:
            break
        time.sleep(0.5)
    else:
        faults.append(f"descriptors and threads did not come back: {served.held()}, at most {MOST_HELD}")
    return served.held()


@contextlib.contextmanager
def through_proxy(address: str, folder: Path) -> Iterator[str]:
    """Where a service is asked: at the proxy as it is shipped, where the environment wants that."""
    if not os.environ.get(THROUGH_PROXY):
        yield address
        return
    with running_proxy(folder / "proxy", [int(address.rpartition(":")[2])]) as proxy:
        yield f"http://127.0.0.1:{proxy.port}"


@contextlib.contextmanager
def shipped_server(run: Run) -> Iterator[Served]:
    """The server as `seamcost serve` starts it, on any free port."""
    environment = {"SEAMCOST_DATABASE_URL": run.database_url, "SEAMCOST_PORT": "0", "SEAMCOST_REQUESTS_PER_MINUTE": "0",
                   "SEAMCOST_WORKERS": str(WORKERS), "SEAMCOST_THREADS": str(THREADS)}
    log = run.folder / "log"
    log.touch()
    group = launcher().start({"command": ["serve"]}, log, sabotage=run.sabotage, environment=environment)
    try:
        address, key = _address_told(group, log), a_key(Settings(database_url=run.database_url), "admin")
        with through_proxy(address, run.folder) as place:
            yield Served(place, key, group, place != address)
    finally:
        stopped(group, 40)


def _address_told(group: int, log: Path) -> str:
    """Where it serves, by what it says once it does."""
    while alive(group):
        if said := re.search("^Serving at ([^ ]+) ", log.read_text(errors="replace"), re.MULTILINE):
            return said[1]
        time.sleep(0.02)
    raise AssertionError(f"It ended before it served: {log.read_text(errors='replace')[-1000:]}")


PROGRAMME = Programme(
    name="bad_clients", row="T03", promise="Slow, half-open and broken clients harm nobody else",
    unit="bad clients", short=len(CASES), long=10 * len(CASES), run=bad_clients,
    sabotages=("half_bodies", "endless_patience"))
