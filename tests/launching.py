"""Starts services by forking a process that has imported them: a start costs a part of a fresh one that way.

A test process has one such launcher (`reliability/launcher.py`), started when it is first needed; it ends with the test
process. What it starts has a process group of its own.
"""

import atexit
import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

TOP = Path(__file__).parents[1]


class Launcher:
    """The process that is forked."""

    def __init__(self) -> None:
        self._line, its_end = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with its_end:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "tests.reliability.launcher", str(its_end.fileno())], cwd=TOP,
                pass_fds=[its_end.fileno()], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
        self._one_at_a_time = Lock()
        atexit.register(self._end)

    def start(self, what: Mapping[str, Any], log: Path, listening: socket.socket | None = None, sabotage: str = "",
              environment: Mapping[str, str] | None = None, beside: Mapping[str, str] = os.environ) -> int:
        """Fork it; the process, and process group, that it became. `what` is told in `reliability/launcher.py`; its
        environment is the one given, `beside` our own."""
        told = {**what, "log": str(log), "sabotage": sabotage, "environment": {**beside, **(environment or {})}}
        process: int = self._answer(told, [] if listening is None else [listening.fileno()])
        return process

    def ended(self, process: int) -> int | None:
        """How a process has ended: its status, or less than zero by a signal; None while it runs."""
        status: int | None = self._answer({"ended": process}, [])
        return status

    def _end(self) -> None:
        self._line.close()
        self._process.wait(20)

    def _answer(self, told: Mapping[str, Any], sockets: list[int]) -> Any:
        with self._one_at_a_time:
            socket.send_fds(self._line, [json.dumps(told).encode()], sockets)
            return json.loads(self._line.recv(32))


launcher = cache(Launcher)


@dataclass(frozen=True)
class Forked:
    """A process that the launcher started, handled as `subprocess.Popen` has its own handled."""

    pid: int

    def poll(self) -> int | None:
        return launcher().ended(self.pid)

    def wait(self, timeout: float) -> int:
        """Raises:  TimeoutExpired."""
        until = time.monotonic() + timeout
        while alive(self.pid):
            if time.monotonic() > until:
                raise subprocess.TimeoutExpired(f"process {self.pid}", timeout)
            time.sleep(0.01)
        status = self.poll()
        assert status is not None
        return status

    def send_signal(self, number: int) -> None:
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)


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


def stopped(group: int, patience: float = 20) -> None:
    """Stop a server gracefully, and make sure that no worker of it is left.

    Never by gunicorn's quick stop: that shuts the thread pool down within a signal handler, and a worker that is
    handing over a request at that instant waits for its own lock for ever.
    """
    with contextlib.suppress(ProcessLookupError):
        os.kill(group, signal.SIGTERM)
    until = time.monotonic() + patience
    while alive(group) and time.monotonic() < until:
        time.sleep(0.02)
    kill(group)


def kill(group: int) -> None:
    """Kill a server and its workers at once, and wait until none is left."""
    members = [group, *children_of(group)]
    with contextlib.suppress(ProcessLookupError):
        os.killpg(group, signal.SIGKILL)
    while any(alive(pid) for pid in members):
        time.sleep(0.002)
