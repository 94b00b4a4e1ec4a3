"""A real spreadsheet program that opens workbooks, computes them anew and takes changes: LibreOffice, headless.

It is asked over its own bridge by a child process in its own Python, since that is where the bridge is installed.
"""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from tests.integrations.price_lists.spreadsheet_program import the_program

Cells = Mapping[str, list[list[Any]]]
"""The rows of each sheet: numbers, texts, "" for nothing, {"error": "#N/A"} for an error."""

INSIDE = Path(__file__).with_name("inside_the_program.py")


def python_of_the_program() -> str:
    """A Python that has the program's bridge; skips where there is none, unless on CI, where that fails."""
    beside = Path(os.path.realpath(the_program())).with_name("python")
    for candidate in (str(beside), "/usr/bin/python3", shutil.which("python3") or "", sys.executable):
        if candidate and Path(candidate).exists() and subprocess.run(
                [candidate, "-c", "import uno"], capture_output=True, check=False, env=_environment()).returncode == 0:
            return candidate
    reason = "No Python with the spreadsheet program's bridge (python3-uno) to test with."
    return pytest.fail(reason) if os.environ.get("CI") else pytest.skip(reason)


@dataclass
class LiveProgram:
    """The program as it runs; one workbook is open at a time."""

    bridge: "subprocess.Popen[str]"
    folder: Path

    def opened(self, file: bytes) -> Cells:
        """Every sheet of a workbook, all of it computed anew."""
        path = self.folder / "workbook.xlsx"
        path.write_bytes(file)
        return self.ask({"do": "open", "url": path.as_uri()})

    def changed(self, cells: Sequence[tuple[str, str, float | str | None]]) -> Cells:
        """Every sheet of the open workbook after these cells (sheet, address) were changed."""
        return self.ask({"do": "change", "cells": cells})

    def close(self) -> None:
        """Close the open workbook."""
        self.ask({"do": "close"})

    def ask(self, request: Mapping[str, Any]) -> Any:
        """What the script inside answers to a request."""
        assert self.bridge.stdin is not None
        assert self.bridge.stdout is not None
        self.bridge.stdin.write(json.dumps(request) + "\n")
        self.bridge.stdin.flush()
        line = self.bridge.stdout.readline()
        assert line, "the spreadsheet program went away"
        return json.loads(line)


@contextmanager
def live_program(folder: Path, inside: Path = INSIDE) -> Iterator[LiveProgram]:
    """The program, with a profile of its own; ended as it was started, by its own process. `inside` is the script that
    asks it."""
    python, pipe = python_of_the_program(), f"workbook-{uuid4().hex}"
    flags = ["--headless", "--norestore", "--nologo", f"--accept=pipe,name={pipe};urp;",
             f"-env:UserInstallation={(folder / 'profile').as_uri()}"]
    program = subprocess.Popen([the_program(), *flags], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    bridge = subprocess.Popen([python, str(inside), pipe], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
                              env=_environment())
    try:
        yield LiveProgram(bridge, folder)
    finally:
        _end(bridge, program)


def _end(bridge: "subprocess.Popen[str]", program: "subprocess.Popen[bytes]") -> None:
    if bridge.poll() is None and bridge.stdin is not None:
        bridge.stdin.write('{"do": "end"}\n')
        bridge.stdin.close()
    for process in (bridge, program):
        try:
            process.wait(30)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
    if bridge.stdout is not None:
        bridge.stdout.close()


def _environment() -> dict[str, str]:
    """Without what this Python set for itself."""
    return {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
