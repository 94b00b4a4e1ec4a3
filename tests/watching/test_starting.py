"""A service starts: it lives and is not ready until every worker has its first snapshot, and one that is replaced later
is missed by nobody."""

import os
import shutil
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
import requests

from service.cli.starting import Starting
from service.watching.first_snapshot import FirstSnapshot
from tests.watching.serving import Served, served, until


def a_worker(age: int) -> SimpleNamespace:
    """What is used of gunicorn's worker; it stops after a hundred heartbeats, where it would wait for ever."""
    worker = SimpleNamespace(age=age, alive=True, beats=0)

    def notify() -> None:
        worker.beats += 1
        worker.alive = worker.beats < 100

    worker.notify = notify
    return worker


def built() -> FirstSnapshot:
    return FirstSnapshot(lambda: True, lambda: None)


def never_built() -> FirstSnapshot:
    return FirstSnapshot(lambda: True, lambda: time.sleep(600))


def test_the_first_workers_listen_at_once_and_the_start_is_over_with_the_last() -> None:
    starting = Starting(2)
    for age in (1, 2):
        assert not starting.is_over
        first = built()
        starting.begin(worker := a_worker(age), first)
        assert first.is_there(30)
    until(lambda: starting.is_over, 30)
    assert worker.beats == 0


def test_one_that_comes_later_waits_while_another_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.cli.starting.HEARTBEAT_SECONDS", 0.001)
    starting = Starting(1)
    starting.begin(a_worker(1), built())
    until(lambda: starting.is_over, 30)
    starting.begin(held := a_worker(2), never_built())
    assert held.beats == 100
    starting.gone(a_worker(1))
    starting.begin(alone := a_worker(3), never_built())
    assert alone.beats == 0
    assert starting.is_over


@pytest.fixture
def slow(sqlite_template: Path, tmp_path: Path) -> Iterator[tuple[Served, Path]]:
    """A server whose first snapshots take as long as the file is there."""
    shutil.copyfile(sqlite_template, tmp_path / "ledger.db")
    (slowness := tmp_path / "slow").touch()
    with served(f"sqlite:///{tmp_path}/ledger.db", tmp_path, module="tests.watching.slow_start",
                SLOW_START=str(slowness)) as running:
        yield running, slowness


def asked(service: Served, path: str) -> requests.Response:
    return requests.get(service.url + path, timeout=10)


def test_it_lives_before_it_is_ready_and_a_worker_that_is_replaced_keeps_nobody_waiting(
    slow: tuple[Served, Path]
) -> None:
    service, slowness = slow
    assert asked(service, "/health/live").status_code == 200
    unready = asked(service, "/health/ready")
    assert (unready.status_code, unready.json()) == (503, {"status": "fail", "starting": True})
    assert service.lines(event="seamcost.health", message="not ready: snapshot")
    assert {one.labels["check"]: one.value for one in service.metrics()["seamcost_health_check"].samples
            }["snapshot"] == 0
    slowness.unlink()
    until(lambda: asked(service, "/health/ready").json() == {"status": "pass"})

    slowness.touch()
    before = service.workers()
    os.kill(before[0], signal.SIGKILL)
    until(lambda: len(set(service.workers()) - set(before)) == 1)
    time.sleep(1)  # as long as the new one takes to be there, and more
    for _ in range(30):
        assert asked(service, "/health/ready").json() == {"status": "pass"}
    [new] = set(service.workers()) - set(before)
    assert not accepts(new)
    slowness.unlink()
    until(lambda: accepts(new))


def accepts(pid: int) -> bool:
    """Whether a worker waits for what its poller tells, the listening sockets among it."""
    polled = [link.name for link in Path(f"/proc/{pid}/fd").iterdir() if "eventpoll" in os.readlink(link)]
    sockets = {link.name for link in Path(f"/proc/{pid}/fd").iterdir() if "socket:" in os.readlink(link)}
    told = "".join(Path(f"/proc/{pid}/fdinfo/{each}").read_text() for each in polled)
    return any(f"tfd:{int(number):>9}" in told for number in sockets)
