"""Random kitchens over HTTP in every run."""

from pathlib import Path

from tests.reliability.exact_figures import PROGRAMME
from tests.reliability.short_form import short_form


def test_what_is_published_equals_exact_arithmetic(sqlite_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, sqlite_url, tmp_path)
    assert verdict.passed, verdict
    assert verdict.cases >= PROGRAMME.short // 4, "nearly all kitchens were left out"
