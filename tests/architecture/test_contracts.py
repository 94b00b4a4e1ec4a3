"""The contracts that tools hold: layers, types, style. One run of the tests is the whole check.

Each tool runs as its users would run it, with the settings of pyproject.toml.
"""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.source_tree import TOP

SCRIPTS = Path(sys.executable).parent
TOOLS = {
    "import-linter": [str(SCRIPTS / "lint-imports"), "--no-cache"],
    "mypy": [sys.executable, "-m", "mypy", "--no-error-summary"],
    "ruff": [sys.executable, "-m", "ruff", "check", "--no-cache", "--quiet", "service", "tests", "migrations"],
}


@pytest.mark.parametrize("tool", sorted(TOOLS))
def test_the_contract_holds(tool: str) -> None:
    done = subprocess.run(TOOLS[tool], cwd=TOP, capture_output=True, text=True, timeout=240, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
