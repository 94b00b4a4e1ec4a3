"""What clients ask leaves nothing behind in a worker: no path, day, code, key or header that was asked for once.

Each round asks for what was never asked for before, once the worker has filled what it keeps on purpose (made small
here). A container that grows by one a round, in each of three stretches of rounds, keeps what was asked for: a worker
of months would be full of it. The soak (T35) asks what tills and kitchens ask, and cannot find that. Three stretches,
since SQLite's driver keeps some 200 cursors before it looks which are still in use.
"""

import gc
import threading
from collections import deque
from datetime import date, timedelta
from functools import lru_cache
from itertools import pairwise

import pytest

from service.rest import costs_media, good_queries, known_paths, recent_answers
from service.use_cases import snapshots
from tests.rest.small_kitchen import Kitchen

WARM, ROUNDS, STRETCHES, FEW = 20, 25, 3, 8
ONE_A_ROUND = ROUNDS * 3 // 4


def ask(kitchen: Kitchen, number: int) -> None:
    """One round: days, codes, names, keys, headers, files and bodies that were never asked before."""
    day, past = date(2030, 1, 1) + timedelta(number), date(2024, 1, 1) + timedelta(number)
    for path in (
            f"/v1/dish-costs?as_of={day}", f"/v1/cut-costs?as_of={day}", f"/v1/dishes?as_of={day}",
            f"/v1/prices?as_of={day}", f"/v1/workbook.xlsx?as_of={day}", f"/v1/dish-costs?codes=none-{number}",
            f"/v1/dish-costs?pos_codes={number}", f"/v1/dish-costs?section=none-{number}",
            f"/v1/dish-costs/none-{number}", f"/v1/dish-costs?cursor=none-{number}", f"/v1/cut-costs/none-{number}",
            f"/v1/recipe-costs/none-{number}", f"/v1/dishes/none-{number}",
            f"/v1/dish-costs/none-{number}/working", f"/v1/ingredients/none-{number}/impact", f"/nowhere/{number}",
            f"/v1/dish-costs?nonsense-{number}=1", f"/v1/dish-costs?as_of=none-{number}",
            f"/v1/price-movements?from={past}&to={past}", f"/v1/theoretical-food-cost?from={past}&to={past}",
            f"/v1/sales?from={past}&to={past}", f"/v1/sales/{past}", f"/v1/menu-engineering?from={past}&to={past}",
            f"/v1/food-cost-uncertainty?within_percent={number % 99 + 1}", f"/v1/margin-alerts?from={past}&to={past}",
            f"/v1/changes?after=0-{number}", f"/v1/price-proposals/{number + 1}", f"/v1/suppliers/none-{number}/items",
            f"/feeds/none-{number}/dish-costs.csv", f"/docs/problems/none-{number}", f"/dishes/none-{number}",
            f"/?section=none-{number}", f"/prices?ingredient=none-{number}", f"/what-if?ingredient=none-{number}"):
        kitchen.client.get(path, headers=kitchen.headers)
    for headers in (
            {"Authorization": f"Bearer none-{number}"}, kitchen.headers | {"X-Request-Id": f"none-{number}"},
            kitchen.headers | {"Accept": f"none/none-{number}"}, kitchen.headers | {"If-None-Match": f'"{number}"'},
            kitchen.headers | {"Prefer": f"none-{number}"}):
        kitchen.client.get("/v1/dish-costs", headers=headers)
    kitchen.client.open("/v1/dish-costs", method=f"NONE{number}", headers=kitchen.headers)
    kitchen.client.post("/sign-in", data={"key": f"none-{number}"})
    for path, body in ((f"/v1/ingredients/none-{number}/prices", {"amount": str(number)}),
                       ("/v1/what-if", {"prices": [{"ingredient": f"none-{number}", "amount": str(number)}]}),
                       ("/v1/what-if", {f"none-{number}": 1})):
        kitchen.client.post(path, json=body, headers=kitchen.headers)


@pytest.fixture
def small_keepings(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is kept on purpose, up to a bound, has a bound that a few rounds reach."""
    monkeypatch.setattr(snapshots, "KEPT", FEW)
    monkeypatch.setattr(snapshots, "KEPT_WITH_ANSWERS", FEW // 2)
    monkeypatch.setattr(good_queries, "MOST_REMEMBERED", FEW)
    monkeypatch.setattr(known_paths, "MOST_REMEMBERED", FEW)
    monkeypatch.setattr(recent_answers.RecentAnswers.__init__, "__defaults__", (5_000,))
    monkeypatch.setattr(costs_media, "_liked_best", lru_cache(FEW)(costs_media._liked_best.__wrapped__))


def sizes() -> dict[int, int]:
    """How much is in each container that is there, by its id."""
    gc.collect()
    return {id(one): len(one) for one in gc.get_objects() if isinstance(one, (dict, list, set, deque))}


def told(container: int) -> str:
    """A container in words."""
    one = next(one for one in gc.get_objects() if id(one) == container)
    return f"{type(one).__name__} of {len(one)}: {str(one)[-200:]}"


def growing(kitchen: Kitchen) -> list[str]:
    """The containers that grow by one a round."""
    for number in range(WARM):
        ask(kitchen, number)
    seen = [sizes()]
    for stretch in range(STRETCHES):
        for number in range(ROUNDS):
            ask(kitchen, WARM + stretch * ROUNDS + number)
        seen.append(sizes())
    more = [{one for one, size in after.items() if size >= before.get(one, size) + ONE_A_ROUND}
            for before, after in pairwise(seen)]
    return [told(one) for one in set.intersection(*more)]


@pytest.mark.usefixtures("small_keepings")
def test_what_was_asked_once_is_not_kept_for_good(kitchen: Kitchen) -> None:
    assert growing(kitchen) == []


@pytest.mark.usefixtures("small_keepings")
def test_what_stays_of_each_request_is_found(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    """A turn to build that stays for each day that anybody asked for, as it was once: a lock and its day."""
    real = snapshots.Snapshots._turn_of
    turns: list[threading.Lock] = []

    def turn_of(self: snapshots.Snapshots, whose: "date | str") -> threading.Lock:
        turns.append(real(self, whose))
        return turns[-1]

    monkeypatch.setattr(snapshots.Snapshots, "_turn_of", turn_of)
    assert [line for line in growing(kitchen) if line.startswith("list") and "locked" in line]
