"""Services of the programmes about starting and stopping: `seamcost serve` as a process of its own, one a port."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import requests

from tests.launching import TOP, Forked, alive, children_of, launcher
from tests.reliability import sabotage
from tests.reliability.served import NeverReady

SABOTAGES: Mapping[str, str] = {
    # What stops without waiting for anybody, as gunicorn does at SIGINT.
    "stops-at-once": "from gunicorn.arbiter import Arbiter; from service.cli import graceful_stop as it; "
                     "it.LeavingArbiter.handle_term = Arbiter.handle_int; ",
    # Gunicorn's own worker, which leaves the queue of the socket behind.
    "leaves-the-queue": "from gunicorn.workers.gthread import ThreadWorker; "
                        "from service.cli import graceful_stop as it; "
                        "it.LeavingWorker.set_accept_enabled = ThreadWorker.set_accept_enabled; "
                        "it.refuse_new_connections = lambda _listener: None; ",
}


@dataclass
class Service:
    """A service that runs, or is started anew, on one port."""

    port: int
    database_url: str
    folder: Path
    settings: Mapping[str, str] = field(default_factory=dict)
    sabotage: str = ""
    fresh: bool = False
    process: "subprocess.Popen[bytes] | Forked | None" = None

    @property
    def url(self) -> str:
        """Where it is."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it; it may not be ready yet. Only a `fresh` one imports everything first, as an operator's does."""
        clean = {name: value for name, value in os.environ.items() if not name.startswith("SEAMCOST_")}
        settings = {"SEAMCOST_DATABASE_URL": self.database_url, "SEAMCOST_PORT": str(self.port),
                    "SEAMCOST_WORKERS": "2", "SEAMCOST_THREADS": "8", **self.settings}
        if not self.fresh:
            told = {"command": ["serve"], "begin": SABOTAGES.get(self.sabotage, "")}
            self.process = Forked(launcher().start(told, self._log, environment=settings, beside=clean))
            return
        with self._log.open("ab") as log:
            begin = f"{sabotage.statement(self.sabotage)}from service.cli.__main__ import main; main()"
            self.process = subprocess.Popen([sys.executable, "-c", begin, "serve"], cwd=TOP, stdout=log, stderr=log,
                                            env={**clean, **settings})

    def ready(self, seconds: float = 240) -> float:
        """Wait until it says that it is ready; how long that took.

        Raises:  NeverReady, with the end of its log.
        """
        begun = time.monotonic()
        while True:
            try:
                if requests.get(f"{self.url}/health/ready", timeout=seconds).status_code == 200:
                    return time.monotonic() - begun
            except requests.ConnectionError:
                pass
            if time.monotonic() - begun > seconds or self._ended():
                raise NeverReady(f"It did not become ready: {self.log()[-1000:]}")
            time.sleep(0.02)

    def workers(self) -> set[int]:
        """Its worker processes."""
        assert self.process is not None
        return set(children_of(self.process.pid))

    def tell(self, number: signal.Signals) -> None:
        """Send the master a signal."""
        assert self.process is not None
        self.process.send_signal(number)

    def ended(self, seconds: float = 120) -> int:
        """Wait for its end; the status."""
        assert self.process is not None
        return self.process.wait(seconds)

    def kill(self) -> None:
        """Kill it with its workers, if it runs. Gunicorn's quick stop can leave a worker that waits for its own lock:
        that would keep the port, and never answer who is put through to it."""
        if self.process is None or self._ended():
            return
        members = (self.process.pid, *children_of(self.process.pid))
        for pid in members:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.process.wait(30)
        while any(alive(pid) for pid in members):
            time.sleep(0.002)

    def log(self) -> str:
        """What it has said."""
        return self._log.read_text(encoding="utf-8")

    @property
    def _log(self) -> Path:
        return self.folder / f"service-{self.port}.log"

    def _ended(self) -> bool:
        return self.process is None or self.process.poll() is not None


@contextmanager
def running(*services: Service) -> Iterator[None]:
    """Start services, and kill what of them still runs at the end."""
    try:
        for service in services:
            service.start()
        for service in services:
            service.ready()
        yield
    finally:
        for service in services:
            service.kill()
