"""The short form of restart.py: on SQLite, and on both engines where all is asked for."""

import os
from pathlib import Path

import pytest

from tests.reliability.programme import Run
from tests.reliability.restart import PROGRAMME

IN_EVERY_RUN = PROGRAMME.engines if os.environ.get("SEAMCOST_EVERY_ENGINE") else ("sqlite",)
"""A killed database comes back in every run of the kills too."""


@pytest.mark.parametrize("engine", IN_EVERY_RUN)
def test_it_is_ready_after_a_bad_end_and_its_first_answer_is_right(
    engine: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    on_postgres = engine == "postgresql"
    url = request.getfixturevalue("postgres_url" if on_postgres else "sqlite_url")
    server = request.getfixturevalue("postgres_server") if on_postgres else None
    verdict = PROGRAMME.run(Run(PROGRAMME.short, url, tmp_path, server=server))
    assert (verdict.faults, verdict.cases) == ((), PROGRAMME.short)
