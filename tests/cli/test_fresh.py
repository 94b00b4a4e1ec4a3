"""The health check of what opens no port, as an engine runs it: how long ago a file was written."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]


def asked(file: Path, seconds: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run([sys.executable, "-m", "service.cli.fresh", file, seconds], cwd=TOP, capture_output=True,
                          text=True, timeout=60, check=False)


@pytest.mark.parametrize(("age", "status"), [(80, 0), (100, 1)])
def test_a_file_is_fresh_for_so_long(tmp_path: Path, age: int, status: int) -> None:
    file = tmp_path / "heartbeat"
    file.touch()
    os.utime(file, (then := time.time() - age, then))
    done = asked(file, "90")
    assert (done.returncode, done.stderr) == (status, "")
    assert f"{file} was written {age}" in done.stdout.replace(f"{age + 1} s", f"{age} s")


def test_one_that_is_missing_is_not_and_the_check_imports_nothing_of_the_service(tmp_path: Path) -> None:
    done = asked(tmp_path / "heartbeat", "90")
    assert (done.returncode, done.stdout) == (1, f"{tmp_path / 'heartbeat'}: No such file or directory.\n")
    loads = "import sys, service.cli.fresh; print(*[each for each in sys.modules if each.startswith('service')])"
    done = subprocess.run([sys.executable, "-c", loads], cwd=TOP, capture_output=True, text=True, timeout=60,
                          check=True)
    assert done.stdout.split() == ["service", "service.cli", "service.cli.fresh"]
