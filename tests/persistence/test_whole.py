"""Whether a ledger is whole: nothing is found where nothing is wrong, and a figure published wrongly is named."""

import pytest

from service.persistence.whole import what_is_wrong
from service.use_cases import verify_figures
from tests.reliability.small_ledger import fill


@pytest.fixture
def recorded(engines):
    return fill(engines)


def test_a_ledger_that_is_whole_is_said_to_be_and_how_far_it_has_been_looked_at(recorded, engines):
    told = []
    assert what_is_wrong(engines, progress=lambda what, done: told.append((what, done))) == []
    assert ("dishes recomputed", 1) in told


def test_a_figure_that_is_published_wrongly_is_named(recorded, engines, monkeypatch):
    """A planted fault: the last digit of one figure of one dish."""
    rows = verify_figures.dish_rows

    def off_by_one_digit(snapshot):
        return [row | {"food_cost": cost[:-1] + ("1" if cost[-1] != "1" else "2")}
                for row in rows(snapshot) if (cost := row["food_cost"] or "0.0000")]

    monkeypatch.setattr(verify_figures, "dish_rows", off_by_one_digit)
    told = what_is_wrong(engines)
    assert told
    assert all("dish plate" in one and "food_cost is published as" in one for one in told)
    assert any(f"revision {recorded.head().figures_revision}," in one for one in told)
    assert what_is_wrong(engines, quick=True) == []
