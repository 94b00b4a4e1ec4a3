"""Two independent linters find no error in the committed API document.

They come from npm at pinned versions, into a folder of the user's cache, once. Without Node they are skipped by name;
in CI, Node has to be there.
"""

import fcntl
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

DOCUMENT = Path(__file__).resolve().parents[2] / "openapi" / "openapi.json"
VERSIONS = {"@redocly/cli": "2.77.0", "@stoplight/spectral-cli": "6.16.3"}
QUIET = {"REDOCLY_TELEMETRY": "off", "REDOCLY_SUPPRESS_UPDATE_NOTICE": "true", "NO_COLOR": "1"}
SECONDS_TO_INSTALL, SECONDS_TO_LINT = 280, 60

OLDEST_NODE = 20
"""What the linters of these versions run on."""


def node_is_here() -> bool:
    node = shutil.which("node")
    if node is None or shutil.which("npm") is None:
        return False
    version = subprocess.run([node, "--version"], capture_output=True, text=True, check=True).stdout
    return int(version.lstrip("v").split(".")[0]) >= OLDEST_NODE


pytestmark = [
    pytest.mark.skipif(not node_is_here() and not os.environ.get("CI"),
                       reason=f"Node {OLDEST_NODE} or newer, with npm, is not here"),
    pytest.mark.timeout(SECONDS_TO_INSTALL + SECONDS_TO_LINT),
]


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """One process at a time: the tests run in several."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


@pytest.fixture(scope="session")
def linters() -> Path:
    """The folder of the linters' commands."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "seamcost-linters"
    folder = cache / "-".join(VERSIONS.values())
    with alone(cache):
        if not (folder / "whole").exists():
            npm = shutil.which("npm")
            assert npm is not None, "CI needs Node: install nodejs and npm"
            wanted = [f"{name}@{version}" for name, version in VERSIONS.items()]
            done = subprocess.run(
                [npm, "install", "--prefix", str(folder), "--no-audit", "--no-fund", "--ignore-scripts", *wanted],
                capture_output=True, text=True, timeout=SECONDS_TO_INSTALL, check=False)
            assert done.returncode == 0, done.stderr
            (folder / "whole").touch()
    return folder / "node_modules" / ".bin"


def lint(command: list[str], folder: Path) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(command, cwd=folder, env={**os.environ, **QUIET}, capture_output=True, text=True,
                          timeout=SECONDS_TO_LINT, check=False)


def redocly(linters: Path, document: Path) -> "subprocess.CompletedProcess[str]":
    return lint([str(linters / "redocly"), "lint", "--extends", "recommended", str(document)], document.parent)


def spectral(linters: Path, document: Path) -> "subprocess.CompletedProcess[str]":
    (document.parent / "ruleset.yaml").write_text('extends: ["spectral:oas"]\n', encoding="utf-8")
    return lint([str(linters / "spectral"), "lint", "-r", "ruleset.yaml", "--fail-severity", "error", str(document)],
                document.parent)


LINTERS = {"redocly": redocly, "spectral": spectral}


@pytest.mark.parametrize("name", sorted(LINTERS))
def test_a_linter_finds_no_error(name: str, linters: Path, tmp_path: Path) -> None:
    document = Path(shutil.copy(DOCUMENT, tmp_path / "openapi.json"))
    done = LINTERS[name](linters, document)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("name", sorted(LINTERS))
def test_a_linter_would_find_one(name: str, linters: Path, tmp_path: Path) -> None:
    document = tmp_path / "openapi.json"
    document.write_text('{"openapi": "3.1.0", "info": {"title": "x"}, "paths": {"/a": {"get": {}}}}', encoding="utf-8")
    assert LINTERS[name](linters, document).returncode != 0
