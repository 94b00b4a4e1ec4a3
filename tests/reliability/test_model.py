"""Random requests against the model in every run, on both engines."""

from pathlib import Path

from tests.reliability.model import PROGRAMME
from tests.reliability.short_form import short_form


def test_every_answer_is_the_one_that_the_model_gives(database_url: str, tmp_path: Path) -> None:
    verdict = short_form(PROGRAMME, database_url, tmp_path)
    assert verdict.passed, verdict
    assert verdict.cases == PROGRAMME.short
