"""Polls beside imports and a cascade, shortly (T10); and the check can fail."""

from pathlib import Path

from tests.reliability.programme import Run
from tests.reliability.reads_during_imports import KEY_REVOKED, PROGRAMME


def test_no_poll_fails_while_files_are_parsed(sqlite_url: str, tmp_path: Path) -> None:
    verdict = PROGRAMME.run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    assert verdict.passed, verdict.faults
    assert verdict.figures["imports"] > 0
    assert verdict.figures["cascades"] > 0


def test_a_key_that_is_revoked_amid_the_polls_turns_it_red(sqlite_url: str, tmp_path: Path) -> None:
    verdict = PROGRAMME.run(Run(40, sqlite_url, tmp_path, sabotage=KEY_REVOKED))
    assert any("401" in fault for fault in verdict.faults), verdict
