"""Python programs that tests run, apart from what the tests import: each set in a virtual environment of its own.

From PyPI at pinned versions, into a folder of the user's cache, once. Where PyPI is out of reach the tests that
need them are skipped by name; in CI that fails.
"""

import fcntl
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

SECONDS_TO_INSTALL = 280


def python_packages(versions: Mapping[str, str]) -> Path:
    """The folder of the commands of a virtual environment with these packages."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "seamcost-python-packages"
    wanted = [f"{name}=={version}" for name, version in versions.items()]
    folder = cache / "-".join([*wanted, f"{sys.version_info[0]}.{sys.version_info[1]}"])
    cache.mkdir(parents=True, exist_ok=True)
    with (cache / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "whole").exists():
            _install(folder, wanted)
            (folder / "whole").touch()
    return folder / "bin"


def _install(folder: Path, wanted: list[str]) -> None:
    for command in ([sys.executable, "-m", "venv", "--clear", str(folder)],
                    [str(folder / "bin" / "python"), "-m", "pip", "install", "--quiet", *wanted]):
        done = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS_TO_INSTALL, check=False)
        if done.returncode != 0:
            told = f"{', '.join(wanted)} cannot be installed: {done.stderr[-2000:]}"
            pytest.fail(told) if os.environ.get("CI") else pytest.skip(told)
