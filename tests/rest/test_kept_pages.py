"""What is kept of a list that is asked for in many ways: little, whatever length of page a caller thinks of."""

import gc

from service.rest.conditional import Prebuilt
from tests.rest.small_kitchen import DISH, Kitchen


def answers_kept() -> int:
    gc.collect()
    return sum(isinstance(one, Prebuilt) for one in gc.get_objects())


def test_pages_of_any_length_are_served_and_not_all_kept(kitchen: Kitchen) -> None:
    for number in range(12):
        kitchen.keep(f"/v1/dishes/soup-{number}", DISH)
    whole = kitchen.read("/v1/dish-costs")["data"]
    before = answers_kept()
    for limit in range(1, 12):
        assert kitchen.read(f"/v1/dish-costs?limit={limit}")["data"] == whole[:limit]
    assert answers_kept() == before
