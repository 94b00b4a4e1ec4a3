"""Cuts of the power in every run."""

from pathlib import Path

from tests.reliability.power_cut import PROGRAMME
from tests.reliability.short_form import needs_a_forgetful_disk, short_form


@needs_a_forgetful_disk
def test_no_acknowledged_write_is_lost_when_the_power_is_cut(sqlite_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, sqlite_url, tmp_path)
    assert verdict.passed, verdict
    assert verdict.cases == PROGRAMME.short
