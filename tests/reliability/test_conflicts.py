"""Conflicting changes in every run, on both engines."""

from pathlib import Path

from tests.reliability.conflicts import PROGRAMME
from tests.reliability.short_form import short_form


def test_no_update_is_lost_and_what_clients_saw_is_possible(database_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, database_url, tmp_path)
    assert verdict.passed, verdict
