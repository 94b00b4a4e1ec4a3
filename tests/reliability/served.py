"""A service that may be killed: a real gunicorn in a process group of its own, started again on the same port.

Starts are forked from a process that has imported everything (launcher.py). The clock stands at noon of a chosen day,
as in the stories. The port stays open while nothing serves: who asks then waits, as behind a proxy.
"""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import requests

from service.settings import Settings
from tests.stories.running_service import OUT_OF_THE_WAY, WEDNESDAY, a_key, set_clock

TOP = Path(__file__).parents[2]
PATIENCE = 120


class NeverReady(Exception):
    """The service did not come up."""


@dataclass
class Served:
    """One service: where it is, what it stands on, and the process group that it is now."""

    database_url: str
    folder: Path
    launcher: "subprocess.Popen[str]"
    address: str
    sabotage: str = ""
    workers: int = 2
    threads: int = 4
    environment: Mapping[str, str] = field(default_factory=dict)
    group: int = 0

    @property
    def settings(self) -> Settings:
        return Settings(database_url=self.database_url, test_mode=True, clock_file=self.folder / "clock")

    def a_key(self, *scopes: str) -> str:
        """A new key, made past the service."""
        return a_key(self.settings, *scopes)

    def start(self) -> float:
        """Start it; seconds until it answers that it is ready."""
        begun = time.monotonic()
        told = {"arguments": ["service.wsgi:app", "-k", "gthread", "-w", str(self.workers), "--threads",
                              str(self.threads), "--no-control-socket", "--keep-alive", "30",
                              "--graceful-timeout", "1"],
                "environment": {**self._own_environment(), **self.environment},
                "log": str(self.folder / "log"), "sabotage": self.sabotage}
        assert self.launcher.stdin is not None
        assert self.launcher.stdout is not None
        self.launcher.stdin.write(json.dumps(told) + "\n")
        self.launcher.stdin.flush()
        self.group = int(self.launcher.stdout.readline())
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
        members = [self.group, *self.worker_processes()]
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.group, signal.SIGKILL)
        while any(alive(pid) for pid in members):
            time.sleep(0.002)

    def _own_environment(self) -> dict[str, str]:
        return {"SEAMCOST_DATABASE_URL": self.database_url, "SEAMCOST_TEST_MODE": "1",
                "SEAMCOST_CLOCK_FILE": str(self.folder / "clock"), "SEAMCOST_THREADS": str(self.threads),
                "SEAMCOST_REQUESTS_PER_MINUTE": OUT_OF_THE_WAY}


@contextlib.contextmanager
def served(database_url: str, folder: Path, sabotage: str = "", workers: int = 2, **environment: str
           ) -> Iterator[Served]:
    """A service that runs until the block is left; its database is migrated."""
    set_clock(folder / "clock", WEDNESDAY)
    launcher = subprocess.Popen([sys.executable, "-m", "tests.reliability.launcher"], cwd=TOP, text=True,
                                stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert launcher.stdout is not None
    service = Served(database_url, folder, launcher, f"http://127.0.0.1:{int(launcher.stdout.readline())}", sabotage,
                     workers, environment=environment)
    try:
        service.start()
        yield service
    finally:
        if service.group:
            service.kill_all()
        launcher.communicate()


def children_of(process: int) -> list[int]:
    """The processes that a process started; none, when it is gone."""
    try:
        return [int(pid) for pid in Path(f"/proc/{process}/task/{process}/children").read_text().split()]
    except (FileNotFoundError, ProcessLookupError):
        return []


def alive(process: int) -> bool:
    """Whether it runs: neither gone nor waiting to be reaped."""
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state not in ("Z", "X")
