"""A full disk (T24): the short form. It mounts a disk of some megabytes, which takes root."""

import os
from pathlib import Path

import pytest

from tests.reliability.disk_full import PROGRAMME
from tests.reliability.programme import Run
from tests.reliability.small_disk import NoSmallDisk


def test_without_room_writes_are_refused_reads_go_on_and_it_recovers(tmp_path: Path) -> None:
    try:
        verdict = PROGRAMME.run(Run(PROGRAMME.short, "", tmp_path))
    except NoSmallDisk as reason:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"No small disk can be mounted here: {reason}")
    assert verdict.passed, verdict.faults
    assert verdict.figures["answers of 507"]
    assert verdict.figures["answers of 503"]
