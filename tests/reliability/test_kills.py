"""Kills in every run: 60 on SQLite, 10 on PostgreSQL."""

from pathlib import Path

from tests.reliability.kills import PROGRAMME
from tests.reliability.short_form import short_form

CASES = {"sqlite": PROGRAMME.short, "postgresql": 10}


def test_no_acknowledged_write_is_lost_by_kill_9(database_url: str, tmp_path: Path) -> None:
    engine = database_url.partition(":")[0]
    verdict = short_form(PROGRAMME, database_url, tmp_path, CASES[engine])
    assert verdict.passed, verdict
    assert verdict.cases == CASES[engine]
