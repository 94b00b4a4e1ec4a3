"""Servers of a benchmark: started on a port of their own, asked by the load generator; what processor time it took."""

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

PATIENCE = 300
"""Seconds that a server has to come up, or to end: on a machine that others use it takes its time."""


@dataclass(frozen=True)
class Server:
    """Where a side listens, and the process that was started for it."""

    port: int
    process: int


@dataclass(frozen=True)
class Measured:
    """Answers per second, and the processor milliseconds that the server's processes spent on each."""

    rate: float
    cpu_ms: float


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
    """What the process and those below it have spent so far, to the nanosecond.

    Source:  clock_getcpuclockid(3): Linux makes the clock of a process from its number; /proc counts in hundredths.
    """
    return sum(map(_spent, processes_below(process)))


def _spent(process: int) -> float:
    try:
        return time.clock_gettime((~process << 3) | 2)
    except OSError:
        return 0.0  # it has ended since it was seen


def free_port() -> int:
    """A port on which nothing listens now."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])


@contextmanager
def running(command: list[str], port: int, environment: Mapping[str, str] | None = None) -> Iterator[Server]:
    """A server of ours, up until the block is left."""
    process = subprocess.Popen(command, env={**os.environ, **(environment or {})}, stdout=subprocess.DEVNULL)
    try:
        _wait_for(port, process)
        yield Server(port, process.pid)
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            raise


@contextmanager
def service(database_url: str, port: int, workers: int, threads: int) -> Iterator[Server]:
    """The service, as `seamcost serve` serves it."""
    command = [sys.executable, "-m", "service.cli", "serve", "--database", database_url, "--port",
               str(port), "--workers", str(workers), "--threads", str(threads)]
    with running(command, port) as server:
        yield server


@contextmanager
def bare_view(folder: Path, port: int, workers: int, threads: int, worker_class: str = "gthread") -> Iterator[Server]:
    """The bare view of a folder's files, under the same server."""
    command = [sys.executable, "-m", "tests.benchmarks.bare", "--port", str(port), "--workers", str(workers),
               "--threads", str(threads), "--worker-class", worker_class]
    with running(command, port, {"BENCHMARK_ANSWERS": str(folder)}) as server:
        yield server


def asked_once(port: int, request: bytes) -> tuple[bytes, str]:
    """The body and the tag of the answer to a request as it goes over the wire."""
    line, *fields = request.decode().strip().split("\r\n")
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", line.split()[1], headers=dict(field.split(": ", 1) for field in fields))
    answer = connection.getresponse()
    body = answer.read()
    if answer.status != http.client.OK:
        raise SystemExit(f"{line}: {answer.status} {body[:300]!r}")
    connection.close()
    return body, answer.headers["ETag"] or ""


def wire(path: str, **headers: str) -> bytes:
    """A GET as it goes over the wire."""
    lines = [f"GET {path} HTTP/1.1", "Host: 127.0.0.1",
             *(f"{name.replace('_', '-')}: {value}" for name, value in headers.items())]
    return ("\r\n".join(lines) + "\r\n\r\n").encode()


def loaded(server: Server, request: bytes, status: int, seconds: float, connections: int) -> Measured:
    """Ask a server for so long, by a process of its own."""
    before = processor_seconds(server.process)
    load = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.load", "127.0.0.1", str(server.port), str(seconds), str(connections),
         str(status)], input=request, capture_output=True, check=False, timeout=seconds + 60)
    if load.returncode:
        raise SystemExit(f"{request.decode()}: {load.stderr.decode()}")
    rate = float(load.stdout)
    return Measured(rate, (processor_seconds(server.process) - before) * 1e3 / (rate * seconds))


def _wait_for(port: int, process: "subprocess.Popen[bytes]") -> None:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        if process.poll() is not None:
            raise SystemExit(f"the server ended with {process.returncode}")
        try:
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
            connection.request("GET", "/")
            connection.getresponse().read()
        except OSError:
            time.sleep(0.1)
        else:
            connection.close()
            return
    raise SystemExit(f"nothing listens on port {port}")
