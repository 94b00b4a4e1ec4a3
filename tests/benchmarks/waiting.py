"""Ordinary reads beside pollers that wait for changes: the rate of one dish with 200 of them idle, and without.

    python -m tests.benchmarks.waiting [--pollers 200] [--rounds 5] [--seconds 10] [--dishes 500] [--database URL]

Each poller asks the feed of changes to hold its request for 25 seconds; beyond half of a worker's threads the answer
comes at once, with Retry-After, and the poller sleeps so long. Nothing changes meanwhile. Rounds with and without the
pollers take turns; the ratio is taken per round.
"""

import argparse
import http.client
import json
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from statistics import median

from tests.benchmarks.kitchens import filled
from tests.benchmarks.results import CLOCK, Asked, Result, ratios
from tests.benchmarks.serving import Measured, loaded, service, wire

WAIT = 25
PATH = "/v1/dish-costs/changes"


class Pollers:
    """So many pollers, each a thread with a connection of its own; they count what they were answered."""

    def __init__(self, port: int, key: str, count: int) -> None:
        self._port, self._headers = port, {"Authorization": f"Bearer {key}"}
        self._after = self._where_it_stands()
        self._done = threading.Event()
        self._lock = threading.Lock()
        self.held = self.sent_away = self.faults = 0
        self._threads = [threading.Thread(target=self._poll, daemon=True) for _ in range(count)]

    def start(self) -> None:
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        self._done.set()
        for thread in self._threads:
            thread.join(WAIT + 30)

    def _poll(self) -> None:
        connection, after = self._connection(), self._after
        while not self._done.is_set():
            connection.request("GET", f"{PATH}?after={after}&wait={WAIT}", headers=self._headers)
            answer = connection.getresponse()
            after = json.loads(answer.read()).get("next_cursor", after)
            pause = int(answer.headers.get("Retry-After", 0))
            with self._lock:
                self.faults += answer.status != http.client.OK
                self.held += not pause
                self.sent_away += bool(pause)
            if pause:
                connection.close()  # the server would, while the poller sleeps; the next request opens it anew
                self._done.wait(pause)
        connection.close()

    def _where_it_stands(self) -> str:
        """The cursor behind which nothing has happened yet: the feed, read to its end."""
        connection, after, more = self._connection(), "", True
        while more:
            asked = f"{PATH}?limit=1000{f'&after={after}' if after else ''}"
            connection.request("GET", asked, headers=self._headers)
            page = json.loads(connection.getresponse().read())
            after, more = page["next_cursor"], page["more"]
        connection.close()
        return after

    def _connection(self) -> http.client.HTTPConnection:
        return http.client.HTTPConnection("127.0.0.1", self._port, timeout=120)


@contextmanager
def polling(port: int, key: str, count: int, places: int) -> Iterator[Pollers]:
    """Pollers at work: by the time that the block begins each has a place to wait, or was sent away once."""
    pollers = Pollers(port, key, count)
    pollers.start()
    until = time.monotonic() + 60
    while pollers.sent_away < count - places:
        if time.monotonic() > until:
            raise SystemExit(f"of {count} pollers only {pollers.sent_away} were sent away, {pollers.held} held")
        time.sleep(0.1)
    yield pollers
    pollers.stop()
    if pollers.faults:
        raise SystemExit(f"{pollers.faults} answers to those who wait were no 200: nobody knows what they cost")


def results(asked: Asked) -> Iterator[Result]:
    """The rate of one dish beside the pollers over the rate without them."""
    options = _parsed(["--rounds", str(asked.rounds), "--seconds", str(asked.of(0.3, 4, 6)), "--dishes",
                       str(asked.of(20, 500, 500)), "--pollers", str(asked.of(20, 200, 200))])
    alone, beside = measured(options)
    yield Result(f"one dish, answers a second beside {options.pollers} who wait", "without them",
                 ratios([one.rate for one in beside], [one.rate for one in alone]), by=CLOCK)
    yield Result(f"one dish, processor time an answer beside {options.pollers} who wait", "without them",
                 ratios([one.cpu_ms for one in beside], [one.cpu_ms for one in alone]))


def _parsed(words: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Ordinary reads beside idle pollers.")
    parser.add_argument("--pollers", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--connections", type=int, default=8)
    parser.add_argument("--dishes", type=int, default=500)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--threads", type=int, default=16)
    parser.add_argument("--database", default="", help="a database that is empty, or was filled by such a run before")
    parser.add_argument("--port", type=int, default=52_200)
    return parser.parse_args(words)


def main() -> None:
    alone, beside = measured(_parsed())
    ratio = ratios([one.rate for one in beside], [one.rate for one in alone])
    print(f"ratio {median(ratio):.2f} ({min(ratio):.2f}..{max(ratio):.2f})")


def measured(asked: argparse.Namespace) -> tuple[list[Measured], list[Measured]]:
    """The rounds without the pollers, and with them."""
    with tempfile.TemporaryDirectory() as folder:
        database = asked.database or f"sqlite:///{folder}/menu.db"
        kitchen = filled(database, asked.dishes)
        request = wire(f"/v1/dish-costs/{kitchen.dish}", Authorization=f"Bearer {kitchen.till}")
        with service(database, asked.port, asked.workers, asked.threads) as server:
            alone, beside, places = [], [], asked.workers * (asked.threads // 2)
            for _ in range(asked.rounds):
                alone.append(loaded(server, request, 200, asked.seconds, asked.connections))
                with polling(server.port, kitchen.till, asked.pollers, places) as pollers:
                    beside.append(loaded(server, request, 200, asked.seconds, asked.connections))
                    told = f"{pollers.held} held, {pollers.sent_away} sent away, {pollers.faults} faults so far"
                print(f"alone {alone[-1].rate:6.0f}/s, beside {asked.pollers} pollers {beside[-1].rate:6.0f}/s "
                      f"({told})", flush=True)
    return alone, beside


if __name__ == "__main__":
    main()
