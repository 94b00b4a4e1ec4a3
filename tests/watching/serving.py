"""`seamcost serve` as it is run in production, with its log as JSON lines in a file and its metrics on a port."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import requests
from prometheus_client.metrics_core import Metric
from prometheus_client.parser import text_string_to_metric_families

TOP = Path(__file__).resolve().parents[2]
SECONDS_TO_WAIT = 180


@dataclass(frozen=True)
class Served:
    """A server that runs: where the API and the metrics are, its log, its process."""

    url: str
    metrics_url: str
    log: Path
    process: "subprocess.Popen[bytes]"

    def lines(self, **having: Any) -> list[dict[str, Any]]:
        """The lines of the log with such members. Every line must be an object."""
        told = [json.loads(line) for line in self.log.read_bytes().split(b"\n")[:-1]]
        assert all(isinstance(line, dict) for line in told)
        return [line for line in told if having.items() <= line.items()]

    def workers(self) -> list[int]:
        pid = self.process.pid
        return [int(each) for each in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]

    def metrics(self) -> Mapping[str, Metric]:
        """What is scraped, read by the library's own reader."""
        answer = requests.get(self.metrics_url, timeout=30)
        assert answer.status_code == 200, answer.text
        return {family.name: family for family in text_string_to_metric_families(answer.text)}


def until(found: Callable[[], Any], seconds: float = SECONDS_TO_WAIT) -> Any:
    """What is found at last."""
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        if what := found():
            return what
        time.sleep(0.05)
    raise AssertionError(f"nothing was found within {seconds} s")


def free_ports(count: int) -> Sequence[int]:
    """So many ports that nothing listens on, all different."""
    probes = [socket.create_server(("127.0.0.1", 0)) for _ in range(count)]
    try:
        return [probe.getsockname()[1] for probe in probes]
    finally:
        for probe in probes:
            probe.close()


@contextmanager
def served(database_url: str, folder: Path, workers: int = 2, module: str = "service.cli", **environment: str
           ) -> Iterator[Served]:
    """Serve a database until the block is left."""
    port, metrics_port = free_ports(2)
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("SEAMCOST_", "OTEL_"))}
    with (folder / "log").open("ab") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", module, "serve", "--port", str(port), "--workers", str(workers)], cwd=folder,
            stdout=log, stderr=log, env={
                **clean, "PYTHONPATH": str(TOP), "SEAMCOST_DATABASE_URL": database_url, "SEAMCOST_LOG_FORMAT": "json",
                "SEAMCOST_METRICS_PORT": str(metrics_port), **environment})
    found = Served(f"http://127.0.0.1:{port}", f"http://127.0.0.1:{metrics_port}/metrics", folder / "log", process)
    try:
        until(lambda: process.poll() is not None or found.lines(event="serving"))
        assert process.poll() is None, found.log.read_text()
        until(lambda: len(found.workers()) == workers)
        yield found
    finally:
        process.send_signal(signal.SIGTERM)
        with suppress(subprocess.TimeoutExpired):
            process.wait(SECONDS_TO_WAIT)
        process.kill()
        process.wait()
