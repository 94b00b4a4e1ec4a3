"""Conflicting changes in every run, on both engines."""

from pathlib import Path

import pytest

from tests.reliability.conflicts import PROGRAMME, outcome_of
from tests.reliability.short_form import short_form


def test_no_update_is_lost_and_what_clients_saw_is_possible(database_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, database_url, tmp_path)
    assert verdict.passed, verdict


@pytest.mark.parametrize(("status", "problem", "outcome"), [
    (200, "", "written"), (412, "/docs/problems/changed-meanwhile", "refused"),
    (503, "/docs/problems/not-available", "refused"), (503, "/docs/problems/outcome-unknown", "unknown"),
    (500, "/docs/problems/internal", "unknown")])
def test_a_503_is_a_refusal_unless_it_says_that_it_does_not_know(status: int, problem: str, outcome: str) -> None:
    assert outcome_of(status, problem) == outcome
