"""Reads over HTTP: the service beside a bare Flask view that answers with the very same bytes, under the same gunicorn.

    python -m tests.benchmarks.http --serve "seamcost serve --demo" --key KEY --one /v1/dish-costs/grilled-cap \\
        --list "/v1/dish-costs?limit=500" [--workers 2] [--rounds 3] [--seconds 5]

Three cases: a 304, one dish, a list. In every round each side is asked in turn; the ratio of their rates is taken per
round, and beside it the processor time that the workers spent per answer. Both servers and the load share the machine:
give no ratio smaller than the spread between the rounds. Takes cases x 2 x rounds x seconds, and a few seconds more.
With --url-port the service is one that already runs, and its workers' processor time is not read.
"""

import argparse
import os
import shlex
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median

SERVICE, BARE = "service", "bare view"
TAG_OF_CONSTANT = '"constant"'


@dataclass(frozen=True)
class Case:
    """One kind of read: how each side is asked, and the status that it answers with."""

    name: str
    requests: dict[str, bytes]
    status: int


@dataclass(frozen=True)
class Server:
    """Where a side listens, and the process that was started for it (0: none of ours)."""

    port: int
    process: int


def processes_below(process: int) -> list[int]:
    """The process and all that it has started."""
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        parents[int(stat.parent.name)] = int(fields[1])
    found = [process]
    for parent in found:
        found.extend(child for child, of in parents.items() if of == parent)
    return found


def processor_seconds(process: int) -> float:
    """What the process and those below it have spent so far."""
    ticks = 0
    for each in processes_below(process) if process else []:
        fields = Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


@contextmanager
def running(command: list[str], port: int, environment: dict[str, str]) -> Iterator[Server]:
    """A server of ours, up until the block is left."""
    process = subprocess.Popen(command, env={**os.environ, **environment}, stdout=subprocess.DEVNULL)
    try:
        _wait_for(port, process)
        yield Server(port, process.pid)
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=20)


def _wait_for(port: int, process: "subprocess.Popen[bytes]") -> None:
    for _ in range(300):
        if process.poll() is not None:
            raise SystemExit(f"the server ended with {process.returncode}")
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=2).close()
        except urllib.error.HTTPError:
            return
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise SystemExit(f"nothing listens on port {port}")


def fetched(port: int, path: str, key: str) -> tuple[bytes, str]:
    """The body and the tag of one answer of the service."""
    asked = urllib.request.Request(f"http://127.0.0.1:{port}{path}", headers={"Authorization": f"Bearer {key}"})
    with urllib.request.urlopen(asked, timeout=30) as answer:
        return answer.read(), answer.headers["ETag"] or ""


def wire(path: str, **headers: str) -> bytes:
    lines = [f"GET {path} HTTP/1.1", "Host: 127.0.0.1",
             *(f"{name.replace('_', '-')}: {value}" for name, value in headers.items())]
    return ("\r\n".join(lines) + "\r\n\r\n").encode()


def cases(service: Server, folder: Path, asked: argparse.Namespace) -> list[Case]:
    """The three reads; the service's own bytes become those of the bare view."""
    bearer = {"Authorization": f"Bearer {asked.key}"}
    found = []
    for name, path in (("one dish", asked.one), ("list", asked.list)):
        body, tag = fetched(service.port, path, asked.key)
        (folder / name.replace(" ", "-")).write_bytes(body)
        bare_path = "/" + name.replace(" ", "-")
        if name == "one dish":
            if not tag:
                raise SystemExit(f"{path} has no ETag")
            found.append(Case("304", {SERVICE: wire(path, **bearer, If_None_Match=tag),
                                      BARE: wire(bare_path, **bearer, If_None_Match=TAG_OF_CONSTANT)}, 304))
        asking = {SERVICE: wire(path, **bearer), BARE: wire(bare_path, **bearer)}
        found.append(Case(f"{name}, {len(body)} bytes", asking, 200))
    return found


def measured(server: Server, side: str, case: Case, asked: argparse.Namespace) -> tuple[float, float]:
    """Answers per second, and the workers' processor milliseconds per answer."""
    before = processor_seconds(server.process)
    load = subprocess.run([sys.executable, "-m", "tests.benchmarks.load", "127.0.0.1", str(server.port),
                           str(asked.seconds), str(asked.connections), str(case.status)], input=case.requests[side],
                          capture_output=True, check=False, timeout=asked.seconds + 60)
    if load.returncode:
        raise SystemExit(f"{side}, {case.name}: {load.stderr.decode()}")
    rate = float(load.stdout)
    spent = processor_seconds(server.process) - before
    return rate, spent * 1e3 / (rate * asked.seconds)


def compare(servers: dict[str, Server], case: Case, asked: argparse.Namespace) -> None:
    results: dict[str, list[tuple[float, float]]] = {side: [] for side in servers}
    for round_ in range(asked.rounds):
        for side in sorted(servers, reverse=bool(round_ % 2)):
            results[side].append(measured(servers[side], side, case, asked))
    ratios = [ours[0] / bare[0] for ours, bare in zip(results[SERVICE], results[BARE], strict=True)]
    print(f"{case.name:24}{median(ratios):8.2f}{min(ratios):8.2f}..{max(ratios):.2f}   " + "   ".join(
        f"{side}: {median(rate for rate, _ in rounds):.0f}/s, {median(spent for _, spent in rounds):.3f} ms CPU"
        for side, rounds in results.items()))


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Reads over HTTP beside a bare view of the same bytes.")
    parser.add_argument("--serve", help="command that serves on --port; flags for host, port and workers are added")
    parser.add_argument("--url-port", type=int, default=0, help="port of a service that already runs, instead")
    parser.add_argument("--database", default="", help="SEAMCOST_DATABASE_URL for --serve")
    parser.add_argument("--key", required=True)
    parser.add_argument("--one", required=True, help="path of one dish's costs")
    parser.add_argument("--list", required=True, help="path of the list")
    parser.add_argument("--port", type=int, default=52_180)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--threads", type=int, default=8, help="threads of each worker: as the service has")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=5)
    parser.add_argument("--connections", type=int, default=16)
    return parser.parse_args()


def main() -> None:
    asked = arguments()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        if asked.url_port:
            service = Server(asked.url_port, 0)
        else:
            command = [*shlex.split(asked.serve), "--host", "127.0.0.1", "--port", str(asked.port),
                       "--workers", str(asked.workers)]
            environment = {"SEAMCOST_DATABASE_URL": asked.database} if asked.database else {}
            service = stack.enter_context(running(command, asked.port, environment))
        reads = cases(service, folder, asked)
        gunicorn = [sys.executable, "-m", "gunicorn", "--workers", str(asked.workers), "--worker-class", "gthread",
                    "--threads", str(asked.threads), "--bind", f"127.0.0.1:{asked.port + 1}", "--log-level", "error",
                    "tests.benchmarks.bare:app"]
        bare = stack.enter_context(running(gunicorn, asked.port + 1, {"BENCHMARK_ANSWERS": str(folder)}))
        print(f"{'':24}{'ratio':>8}{'least..most':>14}")
        for case in reads:
            compare({SERVICE: service, BARE: bare}, case, asked)


if __name__ == "__main__":
    main()
