"""Texts in every cell of what goes out, in every run. That a guard taken away is found: test_sabotage.py."""

from pathlib import Path

from tests.reliability.exports import PROGRAMME
from tests.reliability.short_form import short_form


def test_any_text_comes_back_as_it_was_and_computes_nothing(sqlite_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, sqlite_url, tmp_path)
    assert verdict.passed, verdict.faults
    assert verdict.cases == PROGRAMME.short
    assert int(str(verdict.figures["taken"])) >= PROGRAMME.short // 3
    assert int(str(verdict.figures["refused"])) > 0
