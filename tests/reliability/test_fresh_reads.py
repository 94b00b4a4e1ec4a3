"""What was acknowledged is seen by the next read of every worker, in every run; and the check can fail."""

from pathlib import Path

from tests.reliability.fresh_reads import PROGRAMME, WORKERS
from tests.reliability.programme import Run


def test_no_read_after_an_acknowledged_write_shows_the_past(postgres_url: str, tmp_path: Path) -> None:
    """On PostgreSQL, where several hosts may serve; the long form has SQLite too."""
    verdict = PROGRAMME.run(Run(PROGRAMME.short, postgres_url, tmp_path))
    assert verdict.passed, verdict
    assert verdict.figures["workers"] == WORKERS
    assert verdict.figures["keys revoked"]


def test_workers_that_believe_what_they_know_for_a_second_are_found(postgres_url: str, tmp_path: Path) -> None:
    """By a till, by who writes and reads, or by a key, whichever is first: a till mostly, after the first write."""
    verdict = PROGRAMME.run(Run(12, postgres_url, tmp_path, sabotage="believed_head"))
    assert not verdict.passed
    assert verdict.figures["polls"]
    told = ("was acknowledged at", "was shown", "after that it was answered")
    assert all(any(words in fault for words in told) for fault in verdict.faults), verdict.faults
