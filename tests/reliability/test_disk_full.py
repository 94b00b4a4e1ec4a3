"""A full disk (T24): the short form. It mounts a disk of some megabytes, which takes root."""

import os
from pathlib import Path

import pytest

from tests.postgres import PostgresServer
from tests.reliability.disk_full import PROGRAMME
from tests.reliability.programme import Run, Verdict
from tests.reliability.small_disk import NoSmallDisk


def on_a_small_disk(run: Run) -> Verdict:
    """What came of it; skips where no disk can be mounted, unless on CI, where that fails."""
    try:
        return PROGRAMME.run(run)
    except NoSmallDisk as reason:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"No small disk can be mounted here: {reason}")


def test_without_room_writes_are_refused_reads_go_on_and_it_recovers(tmp_path: Path) -> None:
    verdict = on_a_small_disk(Run(PROGRAMME.short, "sqlite://", tmp_path))
    assert verdict.passed, verdict.faults
    assert verdict.figures["answers of 507"]
    assert verdict.figures["answers of 503"]


def test_on_postgresql_too_where_a_table_cannot_grow(
    postgres_server: PostgresServer, postgres_url: str, tmp_path: Path
) -> None:
    verdict = on_a_small_disk(Run(2, postgres_url, tmp_path, server=postgres_server))
    assert (verdict.cases, verdict.faults) == (2, ())
    assert verdict.figures == {"answers of 507": 1, "answers of 0": 1}  # the second is no request
