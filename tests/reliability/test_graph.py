"""Races that would close a loop in every run, and every shape, on the engine of production."""

from pathlib import Path

from tests.reliability.graph import DEEPEST, PROGRAMME
from tests.reliability.short_form import short_form


def test_no_loop_is_stored_and_every_shape_is_answered(postgres_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, postgres_url, tmp_path)
    assert verdict.passed, verdict
    assert verdict.figures["levels"] == verdict.figures["layers of the lattice"] == DEEPEST
