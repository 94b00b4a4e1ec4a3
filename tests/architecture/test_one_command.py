"""CI runs what the README says: one command, the whole check."""

import os
import re
import subprocess

from tests.architecture.source_tree import TOP

RUN = TOP / ".ci" / "run"


def shell_blocks() -> list[str]:
    """What the README shows to be typed into a shell."""
    return re.findall(r"```sh\n(.*?)```", (TOP / "README.md").read_text(encoding="utf-8"), flags=re.DOTALL)


def test_ci_ends_with_the_readme_s_test_command() -> None:
    command = RUN.read_text(encoding="utf-8").splitlines()[-1]
    assert "pytest" in command
    assert f"{command}\n" in shell_blocks()


def test_the_first_command_of_the_readme_serves_the_demo() -> None:
    first = shell_blocks()[0]
    assert first.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert first.rstrip().endswith("seamcost serve --demo")


def test_ci_stops_at_the_first_fault() -> None:
    text = RUN.read_text(encoding="utf-8")
    assert text.startswith("#!/usr/bin/env bash\n")
    assert "set -euo pipefail" in text
    assert os.access(RUN, os.X_OK)
    assert subprocess.run(["bash", "-n", str(RUN)], check=False).returncode == 0
