"""Kills in every run: 60 on SQLite, 10 on PostgreSQL."""

from pathlib import Path

from tests.reliability.kills import PROGRAMME
from tests.reliability.programme import Run

CASES = {"sqlite": PROGRAMME.short, "postgresql": 10}


def test_no_acknowledged_write_is_lost_by_kill_9(database_url: str, tmp_path: Path) -> None:
    engine = database_url.partition(":")[0]
    verdict = PROGRAMME.run(Run(CASES[engine], database_url, tmp_path))
    assert verdict.passed, verdict
    assert verdict.cases == CASES[engine]
