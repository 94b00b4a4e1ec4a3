"""A menu of 100 000 dishes and 1.3 million lines: what it takes to load, compile, recompute, change and start.

    python -m tests.benchmarks.scale [--dishes 100000] [--engine sqlite] [--rounds 3] [--database URL]

Per engine: the menu is recorded (whole records through the ledger's own write, so that the chain is right), a process
of its own reads it back and costs it as a worker does (`in_worker.py`), and one worker under gunicorn is asked over
HTTP: from its start to the first answer, a price posted to the fresh bytes of a dish, of the list's first page and of
the whole list, a what-if, a poll. Recomputing all dishes at new prices is held to one pass in C over the same lines, in
the same process. The rows `a dish of N` over `a dish of N / 10` say whether anything grows faster than the menu: 1 is
linear. Processor time is of the processes of the service; the load asks one thing at a time.
"""

import argparse
import http.client
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field

from service.persistence.engines import open_engines
from tests.benchmarks.kitchens import Filled, filled
from tests.benchmarks.machine import children_of, memory_of
from tests.benchmarks.results import CLOCK, PROCESSOR, SIZE, Asked, Result, ratios
from tests.benchmarks.serving import Server, free_port, processor_seconds, service
from tests.postgres import running_server

ENGINES = ("sqlite", "postgresql")
STEADY = 1.5
"""What a dish of a menu ten times as long may take, over one of the shorter: caches are left behind, nothing more."""


@dataclass
class Took:
    """What each step took, round by round: processor seconds, seconds, and MB that the process held after it."""

    cpu: dict[str, list[float]] = field(default_factory=dict)
    clock: dict[str, list[float]] = field(default_factory=dict)
    memory: dict[str, list[float]] = field(default_factory=dict)

    def add(self, name: str, cpu: float, clock: float, memory: float | None = None) -> None:
        self.cpu.setdefault(name, []).append(cpu)
        self.clock.setdefault(name, []).append(clock)
        if memory is not None:
            self.memory.setdefault(name, []).append(memory)


@dataclass
class Loaded:
    """A menu in a database: what loading it took, how large it is, and its keys."""

    url: str
    dishes: int
    kitchen: Filled
    seconds: float
    clock: float
    megabytes: float


@contextmanager
def a_database(engine: str) -> Iterator[str]:
    """The URL of an empty database of an engine."""
    with ExitStack() as stack:
        if engine == "postgresql":
            yield stack.enter_context(running_server()).create()
        else:
            yield f"sqlite:///{stack.enter_context(tempfile.TemporaryDirectory())}/menu.db"


def loaded(url: str, dishes: int) -> Loaded:
    """Record the menu, where the database is empty."""
    cpu, clock = time.process_time(), time.monotonic()
    kitchen = filled(url, dishes)
    return Loaded(url, dishes, kitchen, time.process_time() - cpu, time.monotonic() - clock, size_of(url))


def size_of(url: str) -> float:
    """The size of a database, in MB."""
    engines = open_engines(url)
    try:
        statement = ("SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()" if engines.is_sqlite
                     else "SELECT pg_database_size(current_database())")
        return float(engines.quick.one(statement, ())[0]) / 1e6
    finally:
        engines.dispose()


def in_worker(url: str, rounds: int, recomputed: int) -> Took:
    """Read and cost the menu in a process of its own, in each round another; recompute it in the last."""
    took = Took()
    for number in range(rounds):
        times = recomputed if number == rounds - 1 else 0
        done = subprocess.run([sys.executable, "-m", "tests.benchmarks.in_worker", url, str(times)],
                              stdout=subprocess.PIPE, check=True)
        for line in done.stdout.splitlines():
            took.add(**json.loads(line))
    return took


class OneWorker:
    """One worker under gunicorn, asked one thing at a time; the time is that of its processes."""

    def __init__(self, server: Server, key: str, took: Took) -> None:
        self._server, self._key, self._took = server, key, took
        self._connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=900)
        self.tag = ""

    def ask(self, name: str, method: str, path: str, body: object = None, expected: int = 200, **headers: str) -> bytes:
        """Ask, add what it took under a name, and hold the answer to its status."""
        cpu, clock = processor_seconds(self._server.process), time.monotonic()
        found = self.ask_untimed(method, path, body, expected, **headers)
        self._took.add(name, processor_seconds(self._server.process) - cpu, time.monotonic() - clock)
        return found

    def ask_untimed(self, method: str, path: str, body: object = None, expected: int = 200, **headers: str) -> bytes:
        sent = {"Authorization": f"Bearer {self._key}", "Accept-Encoding": "gzip", "Content-Type": "application/json"}
        self._connection.request(method, path, json.dumps(body) if body else None, sent | {
            name.replace("_", "-"): value for name, value in headers.items()})
        answer = self._connection.getresponse()
        found = answer.read()
        if answer.status != expected:
            raise SystemExit(f"{method} {path}: {answer.status} {found[:500]!r}")
        self.tag = answer.headers.get("ETag", "")
        return found

    def post_price(self, name: str, good: str, cents: int) -> None:
        """Post a price that differs from the one before."""
        price = {"supplier": "fenmoor", "amount": f"{cents / 100:.2f}", "pack_quantity": "1", "pack_unit": "kg"}
        self.ask(name, "POST", f"/v1/ingredients/{good}/prices", price, 201)


POST, DISH, PAGE, LIST, WHAT_IF, MENDS, POLL, MANY = (
    "a price posted", "and a dish read, fresh", "and the list's first 500, fresh", "and the whole list as CSV, fresh",
    "a what-if of one price, its figures", "a what-if of one price, and every mend", "a poll, unchanged (304)",
    "polls, unchanged (304)")
FRESH = "a price, to the fresh bytes of a dish"
START, FIRST_LIST, FIRST_WHAT_IF = "start to the first dish", "the first whole list", "the first what-if"
POLLS = 200
OWN = "of it, not shared with its master"


def over_http(url: str, kitchen: Filled, rounds: int) -> Took:
    """What a worker takes for each request, once it is warm, and to get there."""
    took = Took()
    clock = time.monotonic()
    with service(url, free_port(), workers=1, threads=16) as server:
        worker = OneWorker(server, kitchen.admin, took)
        worker.ask_untimed("GET", f"/v1/dish-costs/{kitchen.dish}")
        process = children_of(server.process)[0]
        took.add(START, processor_seconds(server.process), time.monotonic() - clock, memory_of(process).resident)
        changed = {"prices": [{"percent": "5", "ingredients": [kitchen.good]}]}
        figures = changed | {"mends_for": []}
        worker.ask(FIRST_LIST, "GET", "/v1/dish-costs", Accept="text/csv")
        worker.ask(FIRST_WHAT_IF, "POST", "/v1/what-if", figures)
        for number in range(rounds):
            for path, name, media in ((f"/v1/dish-costs/{kitchen.dish}", DISH, "application/json"),
                                      ("/v1/dish-costs?limit=500", PAGE, "application/json"),
                                      ("/v1/dish-costs", LIST, "text/csv")):
                worker.post_price(POST, kitchen.good, 500 + 10 * number + len(name))
                worker.ask(name, "GET", path, Accept=media)
            took.add(FRESH, *(series[POST][-3] + series[DISH][-1] for series in (took.cpu, took.clock)))
            worker.ask(WHAT_IF, "POST", "/v1/what-if", figures)
            worker.ask(MENDS, "POST", "/v1/what-if", changed)
            worker.ask_untimed("GET", f"/v1/dish-costs/{kitchen.dish}")
            cpu, clock, tag = processor_seconds(server.process), time.monotonic(), worker.tag
            for _ in range(POLLS):
                worker.ask_untimed("GET", f"/v1/dish-costs/{kitchen.dish}", expected=304, If_None_Match=tag)
            took.add(POLL, (processor_seconds(server.process) - cpu) / POLLS, (time.monotonic() - clock) / POLLS)
        held = memory_of(process)
        took.add(MANY, 0, 0, held.resident)
        took.add(OWN, 0, 0, held.own)
    return took


SHOWN_OF_WORKER = ("read the kitchen", "compile the network", "prepare the sweep", "the rows of all dishes")


def results(asked: Asked) -> Iterator[Result]:
    """The rows of both engines; of the full form 100 000 dishes."""
    yield from of_size(asked.of(600, 10_000, 100_000), asked.rounds, ENGINES)


def of_size(dishes: int, rounds: int, engines: tuple[str, ...]) -> Iterator[Result]:
    """The rows of a menu of so many dishes, held to one of a tenth of them."""
    for engine in engines:
        with a_database(engine) as url, a_database(engine) as smaller:
            less = loaded(smaller, dishes // 10)
            more = loaded(url, dishes)
            yield from _of_loading(engine, less, more)
            yield from _of_worker(engine, more, in_worker(smaller, 1, 0), in_worker(url, 1, rounds))
            yield from _over_http(engine, more, over_http(url, more.kitchen, rounds))


def _of_loading(engine: str, less: Loaded, more: Loaded) -> Iterator[Result]:
    said = f"{engine}, {more.dishes} dishes: "
    yield Result(f"{said}record them all", "", (more.seconds,), "s")
    yield Result(f"{said}record a dish", f"one of {less.dishes}", (
        more.seconds / more.dishes / (less.seconds / less.dishes),), at_most=STEADY)
    yield Result(f"{said}the database", "", (more.megabytes,), "MB", SIZE)


def _of_worker(engine: str, more: Loaded, little: Took, took: Took) -> Iterator[Result]:
    said = f"{engine}, {more.dishes} dishes: "
    for name in SHOWN_OF_WORKER:
        yield Result(f"{said}{name}", "", tuple(took.cpu[name]), "s")
        yield Result(f"{said}{name}, a dish", f"one of {more.dishes // 10}", ratios(
            took.cpu[name], [10 * one for one in little.cpu[name]]), at_most=STEADY)
    last = list(took.memory)[-1]
    yield Result(f"{said}a process with kitchen, network, sweep and rows", "", tuple(took.memory[last]), "MB", SIZE)
    if engine == ENGINES[0] and "one C pass" in took.cpu:
        for name, aim in (("all prices anew: food costs, published digits", 4), ("all prices anew: all figures", None)):
            yield Result(f"{more.dishes} dishes: {name}", "one C pass", ratios(took.cpu[name], took.cpu["one C pass"]),
                         at_most=aim)


def _over_http(engine: str, more: Loaded, took: Took) -> Iterator[Result]:
    said = f"{engine}, {more.dishes} dishes: "
    for name in (START, FIRST_LIST, FIRST_WHAT_IF, POST, DISH, FRESH, PAGE, LIST, WHAT_IF, MENDS, POLL):
        for seconds, by in ((took.cpu[name], PROCESSOR), (took.clock[name], CLOCK)):
            yield Result(said + name, "", tuple(one * 1000 for one in seconds), "ms", by)
    for name, held in ((START, "a worker after its first answer"), (MANY, "a worker after all that"), (OWN, OWN)):
        yield Result(said + held, "", tuple(took.memory[name]), "MB", SIZE)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--dishes", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--engine", action="append", choices=ENGINES)
    parser.add_argument("--database", help="one that is filled already: its worker alone, step by step")
    asked = parser.parse_args()
    if asked.database:
        for part in (in_worker(asked.database, 1, asked.rounds),
                     over_http(asked.database, filled(asked.database, asked.dishes), asked.rounds)):
            for name, seconds in part.cpu.items():
                held = f"{part.memory[name][-1]:8.0f} MB" if name in part.memory else ""
                print(f"{name:46}{sorted(seconds)[len(seconds) // 2]:10.4f} s of processor, "
                      f"{sorted(part.clock[name])[len(seconds) // 2]:10.4f} s{held}", flush=True)
        return
    for result in of_size(asked.dishes, asked.rounds, tuple(asked.engine or ENGINES)):
        print("  ".join(result.cells("scale")[1:]), flush=True)


if __name__ == "__main__":
    main()
