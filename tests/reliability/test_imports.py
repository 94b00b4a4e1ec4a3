"""Files that come into force while workers are killed, in every run, on the embedded database."""

from pathlib import Path

from tests.reliability.imports import PROGRAMME
from tests.reliability.short_form import short_form


def test_a_file_is_in_force_entirely_or_not_at_all(sqlite_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, sqlite_url, tmp_path)
    assert verdict.passed, verdict
    assert verdict.cases == PROGRAMME.short
