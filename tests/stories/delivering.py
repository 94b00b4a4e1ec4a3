"""`seamcost deliver` as a process of its own, beside a running service: started, killed, and stopped as people do."""

import contextlib
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from tests.launching import Forked, kill, launcher
from tests.stories.running_service import RunningService

LOOPBACK = "127.0.0.0/8"
PATIENCE = 120
_NUMBERS = count()


@dataclass(frozen=True)
class Delivering:
    """One of them: its process, and the file of what it says."""

    process: Forked
    log: Path

    def said(self) -> str:
        return self.log.read_text(encoding="utf-8") if self.log.exists() else ""


def _begun(service: RunningService, *flags: str) -> Delivering:
    assert service.settings.clock_file is not None
    log = service.settings.clock_file.with_name(f"deliverer-{next(_NUMBERS)}.log")
    return Delivering(Forked(launcher().start({"command": ["deliver", *flags]}, log, environment={
        "SEAMCOST_DATABASE_URL": service.settings.database_url, "SEAMCOST_TEST_MODE": "1",
        "SEAMCOST_CLOCK_FILE": str(service.settings.clock_file), "SEAMCOST_WEBHOOK_NETWORKS": LOOPBACK})), log)


def deliver_once(service: RunningService) -> None:
    """Deliver what is due now."""
    done = _begun(service, "--once")
    assert done.process.wait(PATIENCE) == 0, done.said()


class Deliverers:
    """Deliverers that run until they are stopped or killed."""

    def __init__(self, service: RunningService) -> None:
        self._service = service
        self.running: list[Delivering] = []

    def start(self) -> None:
        """Start one, and wait until it says that it delivers."""
        started = _begun(self._service)
        self.running.append(started)
        until = time.monotonic() + PATIENCE
        while "Delivering" not in started.said():
            assert started.process.poll() is None, started.said()
            assert time.monotonic() < until, started.said()
            time.sleep(0.01)

    def kill_one(self, which: int) -> None:
        """As a power cut does: without a word."""
        kill(self.running.pop(which % len(self.running)).process.pid)

    def stop(self) -> list[str]:
        """Stop all as an operator does; what they said."""
        for each in self.running:
            each.process.send_signal(signal.SIGTERM)
        statuses = [each.process.wait(PATIENCE) for each in self.running]
        said = [each.said() for each in self.running]
        assert statuses == [0] * len(self.running), said
        self.running = []
        return said


@contextlib.contextmanager
def deliverers(service: RunningService, count: int) -> Iterator[Deliverers]:
    """So many at once."""
    found = Deliverers(service)
    try:
        for _ in range(count):
            found.start()
        yield found
    finally:
        for each in found.running:
            kill(each.process.pid)
