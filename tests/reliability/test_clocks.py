"""The short form of clocks: every boundary; and that a boundary that is typed wrongly is told."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from tests.reliability.clocks import AHEAD, BOUNDARIES, PROGRAMME, crossed, two_workers
from tests.reliability.programme import Run
from tests.reliability.short_form import IN_EVERY_RUN, short_form_on


@pytest.mark.parametrize("engine", IN_EVERY_RUN)
def test_figures_are_right_on_each_side_of_each_boundary(
    request: pytest.FixtureRequest, tmp_path: Path, engine: str
) -> None:
    verdict = short_form_on(request, PROGRAMME, engine, tmp_path)
    assert verdict.passed, verdict.faults
    assert verdict.cases == len(BOUNDARIES)


def test_a_day_that_begins_at_another_moment_is_told(sqlite_url: str, tmp_path: Path) -> None:
    wrong = replace(BOUNDARIES[0], begins=BOUNDARIES[0].begins + timedelta(hours=1))
    with two_workers(Run(1, sqlite_url, tmp_path), 0, wrong.begins - AHEAD) as (first, second):
        assert any("the cost is 20.0000" in fault for fault in crossed(first, second, wrong))
