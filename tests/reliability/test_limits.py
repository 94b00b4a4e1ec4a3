"""The short form of limits: one minute, four workers. That workers which count alone are found: test_sabotage.py."""

from pathlib import Path

from tests.reliability.limits import PROGRAMME
from tests.reliability.short_form import short_form


def test_a_key_gets_what_it_may_over_all_workers_and_others_are_unharmed(sqlite_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, sqlite_url, tmp_path)
    assert verdict.passed, verdict.faults
    assert verdict.cases > 2 * verdict.figures["allowed a minute"]
