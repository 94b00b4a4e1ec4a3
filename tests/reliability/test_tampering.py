"""Tampering shows (T21): the short form, on both engines."""

from pathlib import Path

from tests.reliability.short_form import short_form
from tests.reliability.tampering import PROGRAMME


def test_every_tampering_is_found_and_named(database_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, database_url, tmp_path)
    assert verdict.passed, verdict.faults
