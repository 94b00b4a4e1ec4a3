"""Backups under load (T33): the short form. That a damaged file restores nothing: tests/persistence/test_backup.py."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.reliability.backups import PROGRAMME
from tests.reliability.programme import ENGINES, Run


@pytest.mark.parametrize("engine", ENGINES)
def test_a_backup_taken_under_load_restores_to_a_ledger_that_is_whole(
    request: pytest.FixtureRequest, tmp_path: Path, engine: str
) -> None:
    url = request.getfixturevalue("sqlite_url" if engine == "sqlite" else "postgres_url")
    run = Run(PROGRAMME.short, url, tmp_path)
    verdict = PROGRAMME.run(replace(run, server=request.getfixturevalue("postgres_server")))
    assert verdict.passed, verdict.faults
    assert int(str(verdict.figures["last revision"])) > 20
