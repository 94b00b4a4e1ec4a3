"""Both engines answer one random sequence of requests alike, in every run."""

from pathlib import Path

from tests.reliability.alike import PROGRAMME
from tests.reliability.programme import Run


def test_both_engines_answer_alike(postgres_url: str, tmp_path: Path) -> None:
    verdict = PROGRAMME.run(Run(PROGRAMME.short, postgres_url, tmp_path))
    assert verdict.passed, verdict
    statuses = verdict.figures["answers by status"]
    assert {200, 201, 304, 422} <= statuses.keys(), statuses
