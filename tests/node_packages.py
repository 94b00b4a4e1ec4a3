"""Packages of Node that tests run: from npm at pinned versions, into a folder of the user's cache, once.

Without Node the tests that need them are skipped by name; in CI, Node has to be there.
"""

import fcntl
import os
import shutil
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

SECONDS_TO_INSTALL = 280
OLDEST_NODE = 20
"""What packages of these versions run on."""


def node_is_here() -> bool:
    node = shutil.which("node")
    if node is None or shutil.which("npm") is None:
        return False
    version = subprocess.run([node, "--version"], capture_output=True, text=True, check=True).stdout
    return int(version.lstrip("v").split(".")[0]) >= OLDEST_NODE


needs_node = pytest.mark.skipif(not node_is_here() and not os.environ.get("CI"),
                                reason=f"Node {OLDEST_NODE} or newer, with npm, is not here")


def node_packages(versions: Mapping[str, str]) -> Path:
    """The `node_modules` folder with these packages."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "seamcost-node-packages"
    wanted = [f"{name}@{version}" for name, version in versions.items()]
    folder = cache / "-".join(wanted).replace("/", "_")
    with _alone(cache):
        if not (folder / "whole").exists():
            npm = shutil.which("npm")
            assert npm is not None, "CI needs Node: install nodejs and npm"
            done = subprocess.run(
                [npm, "install", "--prefix", str(folder), "--no-audit", "--no-fund", "--ignore-scripts", *wanted],
                capture_output=True, text=True, timeout=SECONDS_TO_INSTALL, check=False)
            assert done.returncode == 0, done.stderr
            (folder / "whole").touch()
    return folder / "node_modules"


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One process at a time: the tests run in several."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
