"""No wrong key opens and no good one is refused in rotation. That a broken check is found: test_sabotage.py."""

from pathlib import Path

from tests.reliability.keys import PROGRAMME, run
from tests.reliability.programme import Run


def test_no_wrong_key_opens_and_no_good_one_is_refused(sqlite_url: str, tmp_path: Path) -> None:
    verdict = run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    assert verdict.faults == ()
    assert verdict.cases == PROGRAMME.short
