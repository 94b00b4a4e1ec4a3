"""From posting a price to reading what it moved on another worker: median and 99th percentile, in milliseconds.

    python -m tests.benchmarks.visible [--dishes 500 10000] [--posts 300] [--database URL]

Two connections that two worker processes have accepted: a price is posted on one, and as soon as it is acknowledged the
first page of the menu is asked for on the other, which has to find it. Printed are the time until the price was
acknowledged, the read on the other worker, both together, and beside them a read when nothing has changed.
"""

import argparse
import http.client
import json
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median, quantiles

from tests.benchmarks.kitchens import Filled, filled
from tests.benchmarks.results import CLOCK, Asked, Result, ratios
from tests.benchmarks.serving import Server, processes_below, service

PORT = 52_190


@dataclass
class Connection:
    """A connection that one worker has accepted, and the key that it asks with."""

    http: http.client.HTTPConnection
    key: str

    def ask(self, method: str, path: str, body: object = None) -> tuple[int, dict[str, object]]:
        sent = {"Authorization": f"Bearer {self.key}"} | ({"Content-Type": "application/json"} if body else {})
        self.http.request(method, path, json.dumps(body) if body else None, sent)
        answer = self.http.getresponse()
        return answer.status, json.loads(answer.read())


@contextmanager
def two_workers(server: Server, key: str) -> Iterator[tuple[Connection, Connection]]:
    """Two connections, held by different processes of the server."""
    found: dict[int, http.client.HTTPConnection] = {}
    spare = []
    while len(found) < 2:
        connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=120)
        connection.request("GET", "/health/live")
        connection.getresponse().read()
        found.setdefault(_holder(server, connection), connection)
        spare.append(connection)
    yield tuple(Connection(connection, key) for connection in found.values())  # type: ignore[misc]
    for connection in spare:
        connection.close()


def _holder(server: Server, connection: http.client.HTTPConnection) -> int:
    """The process that holds the other end of a connection."""
    ours, theirs = (f":{port:04X}" for port in (connection.sock.getsockname()[1], server.port))
    lines = (line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:])
    inode = next(line[9] for line in lines if line[1].endswith(theirs) and line[2].endswith(ours))
    return next(pid for pid in processes_below(server.process)
                if any(_target(link) == f"socket:[{inode}]" for link in Path(f"/proc/{pid}/fd").iterdir()))


def _target(link: Path) -> str:
    try:
        return os.readlink(link)
    except OSError:
        return ""


def measure(server: Server, kitchen: Filled, posts: int) -> dict[str, list[float]]:
    """Milliseconds of each step, post by post. The first five only warm both workers up."""
    times: dict[str, list[float]] = {"post": [], "read on the other worker": [], "both": [], "read, unchanged": []}
    with two_workers(server, kitchen.admin) as workers:
        for number in range(posts + 5):
            posting, reading = workers if number % 2 else workers[::-1]
            price = {"supplier": "fenmoor", "amount": f"{5 + number / 100:.2f}", "pack_quantity": "1",
                     "pack_unit": "kg", "effective_from": "2026-01-02"}
            began = time.perf_counter()
            status, posted = posting.ask("POST", f"/v1/ingredients/{kitchen.good}/prices", price)
            acknowledged = time.perf_counter()
            _, page = reading.ask("GET", "/v1/dish-costs?limit=100")
            read = time.perf_counter()
            if status != http.client.CREATED or page["revision"] != posted["revision"]:
                raise SystemExit(f"not visible: {posted} and then revision {page['revision']}")
            reading.ask("GET", "/v1/dish-costs?limit=100")
            again = time.perf_counter()
            for name, seconds in zip(times, (acknowledged - began, read - acknowledged, read - began, again - read),
                                     strict=True):
                times[name].append(seconds * 1e3)
    return {name: found[5:] for name, found in times.items()}


def results(asked: Asked) -> Iterator[Result]:
    """Post and read on the other worker, over a read when nothing has changed; medians of a part of the posts each."""
    posts = asked.of(2, 40, 100)
    for dishes in asked.of((20,), (500, 10_000), (500, 10_000)):
        with tempfile.TemporaryDirectory() as folder:
            kitchen = filled(database := f"sqlite:///{folder}/menu.db", dishes)
            with service(database, PORT, workers=2, threads=16) as server:
                times = measure(server, kitchen, posts * asked.rounds)
        parts = {name: [median(found[at:at + posts]) for at in range(0, len(found), posts)]
                 for name, found in times.items()}
        yield Result(f"a price, to its figures on the other worker, {dishes} dishes", "", tuple(parts["both"]), "ms",
                     CLOCK)
        yield Result(f"a price, to its figures on the other worker, {dishes} dishes", "a read, unchanged",
                     ratios(parts["both"], parts["read, unchanged"]), by=CLOCK)


def main() -> None:
    parser = argparse.ArgumentParser(description="From a price to what it moved, on another worker.")
    parser.add_argument("--dishes", type=int, nargs="+", default=[500, 10_000])
    parser.add_argument("--posts", type=int, default=300)
    parser.add_argument("--database", default="", help="for one size of menu: empty, or filled by such a run before")
    parser.add_argument("--port", type=int, default=PORT)
    asked = parser.parse_args()
    for dishes in asked.dishes:
        with tempfile.TemporaryDirectory() as folder:
            database = asked.database or f"sqlite:///{folder}/menu.db"
            kitchen = filled(database, dishes)
            with service(database, asked.port, workers=2, threads=16) as server:
                times = measure(server, kitchen, asked.posts)
        print(f"{dishes} dishes, {asked.posts} posts:", flush=True)
        for name, found in times.items():
            print(f"    {name:26} median {median(found):7.1f} ms, p99 {quantiles(found, n=100)[98]:7.1f} ms")


if __name__ == "__main__":
    main()
