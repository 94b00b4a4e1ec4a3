"""Reads over HTTP: the service beside a bare Flask view that answers with the very same bytes, under the same gunicorn.

    python -m tests.benchmarks.http [--dishes 10000] [--rounds 3] [--seconds 10] [--database URL]
    python -m tests.benchmarks.http --worker-classes

Four cases: a 304, one dish, a list of 500 as JSON, the whole menu as CSV under gzip. The service looks up the key, asks
for the head and counts the request, as always. In every round each side is asked in turn; the ratio of their rates, and
of the processor time that their workers spent per answer, is taken per round. Both servers and the load share the
machine: give no ratio smaller than the spread between the rounds; of the two the one by processor time is steadier.
Takes cases x 2 x rounds x seconds, and half a minute to record ten thousand dishes (none for a --database that is
filled already).

With --worker-classes the bare view is asked under gthread and under sync, which closes its connections.
"""

import argparse
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from tests.benchmarks.bare import TAG
from tests.benchmarks.kitchens import Filled, filled
from tests.benchmarks.results import CLOCK, Asked, Result, ratios
from tests.benchmarks.serving import Measured, Server, asked_once, bare_view, loaded, service, wire

SERVICE, BARE = "service", "bare view"


@dataclass(frozen=True)
class Case:
    """One kind of read: how each side is asked, and the status that it answers with."""

    name: str
    requests: Mapping[str, bytes]
    status: int


def cases(server: Server, kitchen: Filled, folder: Path) -> list[Case]:
    """The reads; the service's own bytes become those of the bare view."""
    key = {"Authorization": f"Bearer {kitchen.till}"}
    one = f"/v1/dish-costs/{kitchen.dish}"
    asked = {"one dish": wire(one, **key), "list of 500": wire("/v1/dish-costs?limit=500", **key),
             "whole list, gzip": wire("/v1/dish-costs", Accept="text/csv", Accept_Encoding="gzip", **key)}
    found = []
    for number, (name, request) in enumerate(asked.items()):
        body, tag = asked_once(server.port, request)
        path = f"answer-{number}{'.gz' if 'gzip' in name else ''}"
        (folder / path).write_bytes(body)
        if name == "one dish":
            found.append(Case("304", {SERVICE: wire(one, **key, If_None_Match=tag),
                                      BARE: wire(f"/{path}", **key, If_None_Match=TAG)}, 304))
        found.append(Case(f"{name}, {len(body)} bytes", {SERVICE: request, BARE: wire(f"/{path}", **key)}, 200))
    return found


Rounds = Mapping[str, list[Measured]]


def asked_in_turn(servers: Mapping[str, Server], case: Case, asked: argparse.Namespace) -> Rounds:
    """What each side did in every round, the sides taking turns."""
    found: dict[str, list[Measured]] = {side: [] for side in servers}
    for round_ in range(asked.rounds):
        for side in sorted(servers, reverse=bool(round_ % 2)):
            found[side].append(loaded(servers[side], case.requests[side], case.status, asked.seconds,
                                      asked.connections))
    return found


def compare(servers: Mapping[str, Server], case: Case, against: str, asked: argparse.Namespace) -> None:
    """Ask the sides in turn, and print the ratios of the first to the one that it is held against."""
    results = asked_in_turn(servers, case, asked)
    ours = next(side for side in servers if side != against)
    pairs = list(zip(results[ours], results[against], strict=True))
    rates, times = [a.rate / b.rate for a, b in pairs], [b.cpu_ms / a.cpu_ms for a, b in pairs]
    print(f"{case.name:34}{_spread(rates)}   {_spread(times)}   " + "   ".join(
        f"{side}: {median(one.rate for one in rounds):.0f}/s, {median(one.cpu_ms for one in rounds):.3f} ms CPU"
        for side, rounds in results.items()), flush=True)


def _spread(ratios: list[float]) -> str:
    return f"{median(ratios):6.2f} ({min(ratios):.2f}..{max(ratios):.2f})"


def results(asked: Asked) -> Iterator[Result]:
    """By processor time per answer and by rate: the service over the bare view."""
    words = ["--dishes", str(asked.of(20, 10_000, 10_000)), "--seconds", str(asked.of(0.3, 3, 5)), "--rounds",
             str(asked.rounds)]
    with beside_bare(options := _parsed(words)) as (servers, reads):
        for case in reads:
            found = asked_in_turn(servers, case, options)
            cpu, rate = ([[getattr(one, name) for one in found[side]] for side in (SERVICE, BARE)]
                         for name in ("cpu_ms", "rate"))
            yield Result(f"{case.name}: processor time an answer", "a bare view of the same bytes", ratios(*cpu))
            yield Result(f"{case.name}: answers a second", "a bare view of the same bytes", ratios(*rate), by=CLOCK,
                         at_least=0.8)


@contextmanager
def beside_bare(asked: argparse.Namespace) -> Iterator[tuple[Mapping[str, Server], list[Case]]]:
    """The service and the bare view, side by side, and the reads that both are asked."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        answers = folder / "answers"
        answers.mkdir()
        database = asked.database or f"sqlite:///{folder / 'menu.db'}"
        kitchen = filled(database, asked.dishes)
        ours = stack.enter_context(service(database, asked.port, asked.workers, asked.threads))
        reads = cases(ours, kitchen, answers)
        bare = stack.enter_context(bare_view(answers, asked.port + 1, asked.workers, asked.threads))
        yield {SERVICE: ours, BARE: bare}, reads


def compare_with_bare(asked: argparse.Namespace) -> None:
    with beside_bare(asked) as (servers, reads):
        print(f"{'':34}{'by rate (least..most)':22}   {'by CPU (least..most)':22}")
        for case in reads:
            compare(servers, case, BARE, asked)


def compare_worker_classes(asked: argparse.Namespace) -> None:
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        for size in (500, 50_000):
            (folder / f"bytes-{size}").write_bytes(b"x" * size)
        servers = {name: stack.enter_context(bare_view(folder, asked.port + at, asked.workers, asked.threads, name))
                   for at, name in enumerate(("sync", "gthread"))}
        for size in (500, 50_000):
            request = wire(f"/bytes-{size}")
            compare(servers, Case(f"{size} bytes, sync beside gthread", dict.fromkeys(servers, request), 200),
                    "gthread", asked)


def _parsed(words: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Reads over HTTP beside a bare view of the same bytes.")
    parser.add_argument("--database", default="", help="a database that is empty, or was filled by such a run before")
    parser.add_argument("--dishes", type=int, default=10_000)
    parser.add_argument("--worker-classes", action="store_true", help="compare gunicorn's classes on the bare view")
    parser.add_argument("--port", type=int, default=52_180)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--threads", type=int, default=16, help="threads of each worker: as the service has")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--connections", type=int, default=16)
    return parser.parse_args(words)


def main() -> None:
    asked = _parsed()
    (compare_worker_classes if asked.worker_classes else compare_with_bare)(asked)


if __name__ == "__main__":
    main()
