"""`seamcost deliver` as a process of its own, beside a running service: started, killed, and stopped as people do."""

import contextlib
import os
import subprocess
import sys
from collections.abc import Iterator

from tests.stories.running_service import TOP, RunningService

LOOPBACK = "127.0.0.0/8"


def _environment(service: RunningService) -> dict[str, str]:
    return {**os.environ, "SEAMCOST_DATABASE_URL": service.settings.database_url, "SEAMCOST_TEST_MODE": "1",
            "SEAMCOST_CLOCK_FILE": str(service.settings.clock_file), "SEAMCOST_WEBHOOK_NETWORKS": LOOPBACK}


def deliver_once(service: RunningService) -> None:
    """Deliver what is due now."""
    done = subprocess.run([sys.executable, "-m", "service.cli", "deliver", "--once"], cwd=TOP, timeout=120,
                          env=_environment(service), capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


class Deliverers:
    """Deliverers that run until they are stopped or killed."""

    def __init__(self, service: RunningService) -> None:
        self._service = service
        self.running: list[subprocess.Popen[bytes]] = []

    def start(self) -> None:
        """Start one, and wait until it says that it delivers."""
        started = subprocess.Popen(
            [sys.executable, "-m", "service.cli", "deliver"], cwd=TOP, env=_environment(self._service),
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        self.running.append(started)
        assert started.stderr is not None
        assert b"Delivering" in started.stderr.readline()

    def kill_one(self, which: int) -> None:
        """As a power cut does: without a word."""
        killed = self.running.pop(which % len(self.running))
        killed.kill()
        killed.communicate(timeout=20)

    def stop(self) -> list[str]:
        """Stop all as an operator does; what they said."""
        for each in self.running:
            each.terminate()
        said = [each.communicate(timeout=40)[1].decode() for each in self.running]
        assert [each.returncode for each in self.running] == [0] * len(self.running), said
        self.running = []
        return said


@contextlib.contextmanager
def deliverers(service: RunningService, count: int) -> Iterator[Deliverers]:
    """So many at once."""
    found = Deliverers(service)
    for _ in range(count):
        found.start()
    try:
        yield found
    finally:
        for each in found.running:
            each.kill()
            each.communicate(timeout=20)
