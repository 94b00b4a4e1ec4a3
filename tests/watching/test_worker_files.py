"""Counts of workers that are gone stay, their gauges do not, and a thousand of them are one file."""

import fcntl
import os
import subprocess
import sys
from pathlib import Path

import pytest
from prometheus_client import CollectorRegistry
from prometheus_client.core import Metric
from prometheus_client.mmap_dict import MmapedDict, mmap_key
from prometheus_client.parser import text_string_to_metric_families

from service.watching import worker_files
from service.watching.metrics_page import MetricsPage

WORKER = """
import os
from prometheus_client import CollectorRegistry
from service.watching.figures import Figures
from service.watching.request_figures import RequestFigures
from service.watching.worker_files import count_in_files, own_answers
figures = Figures(CollectorRegistry(), own_answers(count_in_files()))
for _ in range(3):
    RequestFigures(figures).answered("/v1/dishes", "GET", 200, 0.004, dict)
figures.connections_in_use.inc()
figures.snapshot_built(7, 1.0)
print(os.getpid(), flush=True)
input()
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(worker_files.VARIABLE, "")  # so that it is unset again afterwards
    return worker_files.make_folder(tmp_path)


def read(folder: Path) -> dict[str, float]:
    text, _ = MetricsPage(CollectorRegistry(), folder, list).text()
    return {sample.name + sample.labels.get("le", ""): sample.value
            for family in text_string_to_metric_families(text.decode()) for sample in family.samples}


def test_what_workers_counted_outlives_them_and_what_they_held_does_not(folder: Path) -> None:
    for turn in (1, 2, 3):
        worker = subprocess.Popen([sys.executable, "-c", WORKER], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                  env={**os.environ, "PYTHONPATH": "."})
        assert worker.stdout is not None
        assert int(worker.stdout.readline()) == worker.pid
        alive = read(folder)
        worker.kill()
        worker.communicate()
        worker_files.worker_gone(worker.pid)
        gone = read(folder)
        for figures in (alive, gone):
            assert figures["seamcost_http_requests_total"] == 3 * turn
            assert figures["seamcost_http_request_duration_seconds_count"] == 3 * turn
            assert figures["seamcost_http_request_duration_seconds_bucket+Inf"] == 3 * turn
            assert figures["seamcost_http_request_duration_seconds_sum"] == pytest.approx(0.012 * turn)
        assert (alive["seamcost_database_pool_connections_in_use"], alive["seamcost_snapshot_revision"]) == (1, 7)
        assert "seamcost_database_pool_connections_in_use" not in gone
        assert "seamcost_snapshot_revision" not in gone
    assert sorted(path.name for path in folder.glob("*.[dp]*")) == [
        "answers_gone.pairs", "counter_gone.db", "histogram_gone.db"]


def test_the_parent_is_not_held_up_by_who_reads_and_folds_later(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker_files, "PATIENCE_SECONDS", 0.05)
    for pid, count in ((901, 3.0), (902, 4.0)):
        counts = MmapedDict(str(folder / f"counter_{pid}.db"))
        counts.write_value(mmap_key("seamcost_x", "seamcost_x_total", [], [], "x"), count, 0.0)
        counts.close()
    with worker_files.steady(folder):
        worker_files.worker_gone(901)
    assert (folder / "counter_901.db").exists()
    worker_files.worker_gone(902)
    assert read(folder)["seamcost_x_total"] == 7
    assert [path.name for path in folder.glob("*.db")] == ["counter_gone.db"]


def test_what_the_database_tells_is_asked_before_the_files_are_held(folder: Path) -> None:
    def tell() -> list[Metric]:
        with worker_files._alone(folder, fcntl.LOCK_EX | fcntl.LOCK_NB):
            return []

    assert MetricsPage(CollectorRegistry(), folder, tell).text()[0] is not None


def test_the_folder_of_a_server_that_was_killed_is_removed_and_that_of_one_that_runs_is_not(
    folder: Path, tmp_path: Path
) -> None:
    killed = tmp_path / "seamcost-metrics-killed"
    killed.mkdir()
    (killed / "held").touch()
    another = worker_files.make_folder(tmp_path)
    assert (killed.exists(), folder.exists(), another.exists()) == (False, True, True)


def test_a_server_that_starts_at_the_same_moment_leaves_the_folder_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(worker_files.VARIABLE, "")
    flock = fcntl.flock

    def another_starts_before(descriptor: int, how: int) -> None:
        if how == fcntl.LOCK_EX:
            worker_files._remove_ownerless(tmp_path)
        flock(descriptor, how)

    monkeypatch.setattr(worker_files.fcntl, "flock", another_starts_before)
    assert worker_files.make_folder(tmp_path).is_dir()


def test_without_a_folder_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(worker_files.VARIABLE, raising=False)
    assert worker_files.count_in_files() is None
    worker_files.worker_gone(1)
