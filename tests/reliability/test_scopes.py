"""Only what the table of scopes opens is open; and a check that is removed or changed is found."""

from pathlib import Path

import pytest

from tests.reliability.programme import Run
from tests.reliability.scopes import PROGRAMME, run


def test_only_the_cells_of_the_table_open(sqlite_url: str, tmp_path: Path) -> None:
    verdict = run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    assert verdict.faults == ()
    assert verdict.cases > 100


@pytest.mark.parametrize("sabotage", PROGRAMME.sabotages)
def test_a_check_that_is_removed_or_changed_is_found(sqlite_url: str, tmp_path: Path, sabotage: str) -> None:
    faults = run(Run(3, sqlite_url, tmp_path, sabotage=sabotage)).faults
    assert [fault for fault in faults if fault.startswith("DELETE /v1/breakdowns/{code} with costs:read: ")]
