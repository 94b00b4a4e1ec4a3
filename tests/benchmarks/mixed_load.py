"""Four writers and 32 readers at once, beside the same readers alone: rates, percentiles, errors, on both engines.

    python -m tests.benchmarks.mixed_load [--seconds 60] [--rounds 1] [--dishes 1000] [--engine sqlite] [--writers 4]

Half of the readers poll dishes with the tag they have (304 until something moves), a quarter polls lists of 500, a
quarter reads single dishes whole; two writers post prices, two read a dish and put it back with another menu price.
Readers and writers are processes of their own, without pauses: service, database and load share the machine's two
cores, so the rates are of all of them together, and the ratio says what the writers cost the readers: their share of
the processor, and a fresh snapshot in each worker for every revision. An error is any status other than 200, 201, 304.
"""

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from tests.benchmarks.kitchens import Filled, filled
from tests.benchmarks.results import CLOCK, SIZE, Asked, Result
from tests.benchmarks.scale import ENGINES, a_database
from tests.benchmarks.serving import Server, free_port, processor_seconds, service

FINE = ("200", "201", "304")
POLL, LIST, DISH = "poll of a dish", "poll of a list of 500", "dish read whole"
Found = Mapping[str, Mapping[str, Any]]


def readers(count: int, dishes: int) -> list[dict[str, Any]]:
    """The readers of a plan: of every four two poll dishes, one a list, one reads dishes whole."""
    codes = [f"/v1/dish-costs/dish-{number}" for number in range(dishes)]
    kinds = ({"kind": POLL, "tags": True}, {"kind": LIST, "tags": True}, {"kind": POLL, "tags": True},
             {"kind": DISH, "tags": False})
    of_list = ["/v1/dish-costs?limit=500"]
    return [kinds[number % 4] | {"paths": of_list if number % 4 == 1 else codes[number % dishes:][:20]}
            for number in range(count)]


def started(module: str, plan: Mapping[str, Any]) -> "subprocess.Popen[bytes]":
    """A process of the load, that has begun."""
    process = subprocess.Popen([sys.executable, "-m", f"tests.benchmarks.{module}"], stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE)
    assert process.stdin is not None
    process.stdin.write(json.dumps(plan).encode())
    process.stdin.close()
    return process


def ended(process: "subprocess.Popen[bytes]") -> Found:
    """What it found, once it has ended by itself."""
    with process:
        assert process.stdout is not None
        found: Found = json.loads(process.stdout.read())
    return found


def at_once(server: Server, kitchen: Filled, asked: argparse.Namespace, writers: int, seconds: float
            ) -> tuple[Found, float]:
    """Readers beside so many writers, for so long; and the processor seconds of the service, a second."""
    before = processor_seconds(server.process)
    plan = {"port": server.port, "key": kitchen.admin, "seconds": seconds}
    running = [started("crowd", plan | {"readers": readers(asked.readers, asked.dishes)})]
    if writers:
        running.append(started("writing_crowd", plan | {
            "writers": writers, "goods": [f"good-{number}" for number in range(asked.dishes)],
            "dishes": [f"dish-{number}" for number in range(asked.dishes)]}))
    found: dict[str, Any] = {}
    for process in running:
        found |= ended(process)
    return found, (processor_seconds(server.process) - before) / seconds


def errors(found: Found) -> int:
    """How many answers were none of those that are fine."""
    return sum(count for kind in found.values() for status, count in kind["statuses"].items() if status not in FINE)


def rate(found: Found, *kinds: str) -> float:
    return float(sum(found[kind]["rate"] for kind in kinds if kind in found))


READS, WRITTEN = (POLL, LIST, DISH), ("price posted", "dish put")


@dataclass(frozen=True)
class Round:
    """What was found of the readers alone and beside the writers, and the service's processor seconds a second."""

    alone: Found
    cpu_alone: float
    beside: Found
    cpu_beside: float

    def slower(self) -> float:
        """Reads a second beside the writers, over those alone."""
        return rate(self.beside, *READS) / rate(self.alone, *READS)

    def a_read(self) -> float:
        """Processor milliseconds of the service."""
        return self.cpu_alone / rate(self.alone, *READS) * 1e3

    def a_write(self) -> float:
        """The same, with all that it makes readers wait for."""
        extra = self.cpu_beside * 1e3 - self.a_read() * rate(self.beside, *READS)
        return extra / rate(self.beside, *WRITTEN)


def rounds(asked: argparse.Namespace, engine: str) -> Iterator[Round]:
    """As many as are asked for, on one service."""
    with a_database(engine) as url:
        kitchen = filled(url, asked.dishes)
        with service(url, free_port(), asked.workers, asked.threads) as server:
            at_once(server, kitchen, asked, 0, min(3.0, asked.seconds))
            for _ in range(asked.rounds):
                yield Round(*at_once(server, kitchen, asked, 0, min(20.0, asked.seconds)),
                            *at_once(server, kitchen, asked, asked.writers, asked.seconds))


def measured(asked: argparse.Namespace, engine: str) -> Iterator[Result]:
    """The rows of one engine."""
    found = list(rounds(asked, engine))
    said = f"{engine}, {asked.dishes} dishes, {asked.writers} writers, {asked.readers} readers: "
    yield Result(f"{said}reads a second", "the readers alone", tuple(one.slower() for one in found), by=CLOCK)
    for kind in READS:
        yield Result(f"{said}{kind}, p99", "the readers alone", tuple(
            one.beside[kind]["p99"] / one.alone[kind]["p99"] for one in found), by=CLOCK)
    for kind in (*READS, *WRITTEN):
        for percent in ("p50", "p99"):
            yield Result(f"{said}{kind}, {percent}", "", tuple(one.beside[kind][percent] for one in found), "ms", CLOCK)
    for what, kinds in (("reads", READS), *((kind, (kind,)) for kind in WRITTEN)):
        yield Result(f"{said}{what}", "", tuple(rate(one.beside, *kinds) for one in found), "a second", CLOCK)
    yield Result(f"{said}processor time of the service a read, alone", "", tuple(one.a_read() for one in found), "ms")
    yield Result(f"{said}processor time of the service a write, with what it makes readers wait for", "", tuple(
        one.a_write() for one in found), "ms")
    yield Result(f"{said}errors", "", (float(sum(errors(one.beside) + errors(one.alone) for one in found)),), "", SIZE,
                 at_most=0)


def results(asked: Asked) -> Iterator[Result]:
    """Both engines; a minute beside the writers in each round of the full form, and twenty seconds without them."""
    options = _parsed(["--seconds", str(asked.of(1, 15, 60)), "--dishes", str(asked.of(40, 1_000, 1_000)),
                       "--rounds", str(asked.rounds)])
    for engine in ENGINES:
        yield from measured(options, engine)


def _parsed(words: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--dishes", type=int, default=1_000)
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--writers", type=int, default=4)
    parser.add_argument("--readers", type=int, default=32)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--threads", type=int, default=16)
    parser.add_argument("--engine", action="append", choices=ENGINES)
    return parser.parse_args(words)


def main() -> None:
    asked = _parsed()
    for engine in asked.engine or ENGINES:
        for result in measured(asked, engine):
            print("  ".join(result.cells("mixed_load")[1:]), flush=True)


if __name__ == "__main__":
    main()
