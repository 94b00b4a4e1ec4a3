"""The n-th failure of the database (T25): each call of five writes, on both engines."""

from pathlib import Path
from typing import Any

from tests.reliability.nth_failure import HOW, PROGRAMME, ROUTES
from tests.reliability.short_form import short_form


def test_whichever_call_fails_the_answer_says_so_and_nothing_is_half_done(database_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, database_url, tmp_path)
    assert verdict.passed, verdict.faults
    calls: Any = verdict.figures["calls of each write that was tried throughout"]
    assert calls.keys() == {f"{name}, {how}" for name in ROUTES for how in HOW.values()}
    assert min(calls.values()) > 5, calls
