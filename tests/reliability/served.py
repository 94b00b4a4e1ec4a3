"""A service that may be killed: a real gunicorn in a process group of its own, started again on the same port.

Starts are forked from a process that has imported everything. The clock stands at noon of a chosen day, as in the
stories. The port stays open while nothing serves: who asks then waits, as behind a proxy.
"""

import contextlib
import os
import signal
import socket
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import requests

from service.settings import Settings
from tests.launching import alive, children_of, kill, launcher
from tests.stories.running_service import OUT_OF_THE_WAY, WEDNESDAY, a_key, set_clock

PATIENCE = 120


class NeverReady(Exception):
    """The service did not come up."""


@dataclass
class Served:
    """One service: where it is, what it stands on, and the process group that it is now."""

    database_url: str
    folder: Path
    listening: socket.socket
    sabotage: str = ""
    workers: int = 2
    threads: int = 4
    environment: Mapping[str, str] = field(default_factory=dict)
    group: int = 0

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.listening.getsockname()[1]}"

    @property
    def settings(self) -> Settings:
        return Settings(database_url=self.database_url, test_mode=True, clock_file=self.folder / "clock")

    def a_key(self, *scopes: str) -> str:
        """A new key, made past the service."""
        return a_key(self.settings, *scopes)

    def start(self) -> float:
        """Start it; seconds until it answers that it is ready."""
        begun = time.monotonic()
        self.group = launcher().start(
            {"arguments": ["service.wsgi:app", "-k", "gthread", "-w", str(self.workers), "--threads",
                           str(self.threads), "--no-control-socket", "--keep-alive", "30", "--graceful-timeout", "1"]},
            self.folder / "log", self.listening, self.sabotage, {**self._own_environment(), **self.environment})
        self.wait_until_ready()
        return time.monotonic() - begun

    def wait_until_ready(self) -> float:
        """Wait until it says that it can do its work; for how long that was.

        Raises:  NeverReady, with the end of its log.
        """
        begun = time.monotonic()
        while time.monotonic() < begun + PATIENCE and alive(self.group):
            with contextlib.suppress(requests.RequestException):
                if requests.get(f"{self.address}/health/ready", timeout=10).status_code == 200:
                    return time.monotonic() - begun
            time.sleep(0.01)
        raise NeverReady((self.folder / "log").read_text(errors="replace")[-3000:])

    def worker_processes(self) -> list[int]:
        return children_of(self.group)

    def kill_a_worker(self) -> float:
        """Kill the worker that serves longest; seconds until another has taken its place."""
        before = self.worker_processes()
        victim = before[0]
        begun = time.monotonic()
        os.kill(victim, signal.SIGKILL)
        while set(self.worker_processes()) <= set(before):
            if time.monotonic() > begun + PATIENCE or not alive(self.group):
                raise NeverReady(f"worker {victim} was killed, and none took its place")
            time.sleep(0.002)
        return time.monotonic() - begun

    def kill_workers(self) -> None:
        """Kill every worker at once, whatever they are doing; the master stays, and puts others in their places."""
        for process in self.worker_processes():
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)

    def kill_all(self) -> None:
        """Kill master and workers at once, and wait until none is left."""
        kill(self.group)

    def _own_environment(self) -> dict[str, str]:
        return {"SEAMCOST_DATABASE_URL": self.database_url, "SEAMCOST_TEST_MODE": "1",
                "SEAMCOST_CLOCK_FILE": str(self.folder / "clock"), "SEAMCOST_THREADS": str(self.threads),
                "SEAMCOST_REQUESTS_PER_MINUTE": OUT_OF_THE_WAY}


@contextlib.contextmanager
def served(database_url: str, folder: Path, sabotage: str = "", workers: int = 2, threads: int = 4,
           **environment: str) -> Iterator[Served]:
    """A service that runs until the block is left; its database is migrated."""
    set_clock(folder / "clock", WEDNESDAY)
    with socket.create_server(("127.0.0.1", 0), backlog=256) as listening:
        service = Served(database_url, folder, listening, sabotage, workers, threads, environment)
        try:
            service.start()
            yield service
        finally:
            if service.group:
                service.kill_all()
