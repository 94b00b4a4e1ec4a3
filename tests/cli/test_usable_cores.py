"""What a container may use counts, not what the machine has. Source: the kernel's documentation of control groups."""

import os
from pathlib import Path

import pytest

from service.cli.gunicorn_server import workers_of
from service.cli.usable_cores import usable_cores
from service.settings import Settings


@pytest.mark.parametrize(("files", "cores"), [
    ({"cpu.max": "200000 100000\n"}, 2), ({"cpu.max": "150000 100000\n"}, 2), ({"cpu.max": "max 100000\n"}, 64),
    ({"cpu.max": "1000 100000\n"}, 1), ({"cpu/cpu.cfs_quota_us": "400000\n", "cpu/cpu.cfs_period_us": "100000\n"}, 4),
    ({"cpu/cpu.cfs_quota_us": "-1\n", "cpu/cpu.cfs_period_us": "100000\n"}, 64), ({}, 64), ({"cpu.max": "?"}, 64)])
def test_a_control_group_bounds_the_cores(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, files: dict[str, str],
                                          cores: int) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _pid: set(range(64)), raising=False)
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    assert usable_cores(tmp_path) == cores


def test_affinity_bounds_them_too_and_workers_are_twice_as_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _pid: {3}, raising=False)
    assert workers_of(Settings(database_url="postgresql://localhost/x"), several_are_safe=True) == 2
