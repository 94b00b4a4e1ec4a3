"""The short form of restart.py. On PostgreSQL where all is asked for: a killed database comes back in every run of the
kills too."""

from pathlib import Path

import pytest

from tests.reliability.restart import PROGRAMME
from tests.reliability.short_form import IN_EVERY_RUN, short_form_on


@pytest.mark.parametrize("engine", IN_EVERY_RUN)
def test_it_is_ready_after_a_bad_end_and_its_first_answer_is_right(
    engine: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    verdict = short_form_on(request, PROGRAMME, engine, tmp_path)
    assert (verdict.faults, verdict.cases) == ((), PROGRAMME.short)
