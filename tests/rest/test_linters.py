"""Two independent linters find no error in the committed API document. They run on Node."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.node_packages import SECONDS_TO_INSTALL, needs_node, node_packages

DOCUMENT = Path(__file__).resolve().parents[2] / "openapi" / "openapi.json"
VERSIONS = {"@redocly/cli": "2.77.0", "@stoplight/spectral-cli": "6.16.3"}
QUIET = {"REDOCLY_TELEMETRY": "off", "REDOCLY_SUPPRESS_UPDATE_NOTICE": "true", "NO_COLOR": "1"}
SECONDS_TO_LINT = 60

pytestmark = [needs_node, pytest.mark.timeout(SECONDS_TO_INSTALL + SECONDS_TO_LINT)]


@pytest.fixture(scope="session")
def linters() -> Path:
    """The folder of the linters' commands."""
    return node_packages(VERSIONS) / ".bin"


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
