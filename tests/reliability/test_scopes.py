"""Only what the table of scopes opens is open. That a removed or changed check is found: test_sabotage.py."""

from pathlib import Path

from tests.reliability.programme import Run
from tests.reliability.scopes import PROGRAMME, run


def test_only_the_cells_of_the_table_open(sqlite_url: str, tmp_path: Path) -> None:
    verdict = run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    assert verdict.faults == ()
    assert verdict.cases > 100
