"""Writes over an unreliable network in every run, on the engine of production."""

from pathlib import Path

from tests.reliability.one_effect import PROGRAMME
from tests.reliability.short_form import short_form


def test_one_request_has_one_effect(postgres_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, postgres_url, tmp_path)
    assert verdict.passed, verdict
