"""What is kept of a list that is asked for in many ways: little, whatever length of page a caller thinks of."""

import gc

import pytest

from service.rest import cost_pages
from service.rest.conditional import Prebuilt
from service.rest.recent_answers import RecentAnswers
from tests.rest.small_kitchen import DISH, Kitchen

ROOM = 4_000
"""For three answers at most: each takes a kilobyte beside its bytes."""


def answers_kept() -> int:
    gc.collect()
    return sum(isinstance(one, Prebuilt) for one in gc.get_objects())


def test_pages_of_any_length_are_served_and_kept_only_while_there_is_room(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cost_pages, "recent_answers", lambda snapshot: snapshot.kept(
        "a little room", lambda: RecentAnswers(ROOM)))
    for number in range(12):
        kitchen.keep(f"/v1/dishes/soup-{number}", DISH)
    whole = kitchen.read("/v1/dish-costs")["data"]
    before = answers_kept()
    for limit in range(1, 12):
        assert kitchen.read(f"/v1/dish-costs?limit={limit}")["data"] == whole[:limit]
    assert answers_kept() - before <= ROOM // 1024
