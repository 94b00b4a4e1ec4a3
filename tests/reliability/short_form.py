"""A part of the breaking programme as a test runs it: short, on a ledger of its own."""

import importlib.util
import os
import shutil
from pathlib import Path

import pytest

from tests.reliability.programme import ENGINES, Programme, Run, Verdict


def short_form(programme: Programme, database_url: str, folder: Path) -> Verdict:
    """Run it with its short number of cases."""
    return programme.run(Run(programme.short, database_url, folder))


IN_EVERY_RUN = ENGINES if os.environ.get("SEAMCOST_EVERY_ENGINE") else ("sqlite",)
"""The engines that a part is run on which asks no more of one than of the other."""


def short_form_on(request: pytest.FixtureRequest, programme: Programme, engine: str, folder: Path) -> Verdict:
    """Its short form on an engine, on a ledger of its own."""
    url = request.getfixturevalue("sqlite_url" if engine == "sqlite" else "postgres_url")
    server = None if engine == "sqlite" else request.getfixturevalue("postgres_server")
    return programme.run(Run(programme.short, url, folder, server=server))


def _missing() -> str:
    """Why there is no disk that forgets."""
    if not Path("/dev/fuse").exists() or not os.access("/dev/fuse", os.W_OK):
        return "/dev/fuse is not there, or not to be opened: a disk that forgets needs it"
    if shutil.which("fusermount3") is None:
        return "Debian's fuse3 is not installed: a disk that forgets needs it"
    return "" if importlib.util.find_spec("mfusepy") else "the package mfusepy is not installed"


needs_a_forgetful_disk = pytest.mark.skipif(bool(_missing()) and not os.environ.get("CI"), reason=_missing() or "-")
"""Skips where there is none, unless on CI, where the test fails then."""
