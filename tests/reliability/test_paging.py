"""Pages stand still while others write. That pages which move, or cursors unsigned, are found: test_sabotage.py."""

from pathlib import Path

from tests.reliability.paging import PROGRAMME, run
from tests.reliability.programme import Run


def test_a_list_walked_while_others_write_is_the_list_as_it_stood(sqlite_url: str, tmp_path: Path) -> None:
    verdict = run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    assert verdict.faults == ()
    assert verdict.figures["pages"] > 20
