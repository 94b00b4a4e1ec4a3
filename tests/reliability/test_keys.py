"""No wrong key opens and no good one is refused in rotation; and a check of keys that is broken is found."""

from pathlib import Path

import pytest

from tests.reliability.keys import PROGRAMME, run
from tests.reliability.programme import Run


def test_no_wrong_key_opens_and_no_good_one_is_refused(sqlite_url: str, tmp_path: Path) -> None:
    verdict = run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    assert verdict.faults == ()
    assert verdict.cases == PROGRAMME.short


@pytest.mark.parametrize("sabotage", PROGRAMME.sabotages)
def test_keys_that_are_looked_at_less_well_are_found(sqlite_url: str, tmp_path: Path, sabotage: str) -> None:
    assert run(Run(8, sqlite_url, tmp_path, sabotage=sabotage)).faults != ()
