"""What clients ask leaves nothing behind in a worker: no path, day, code, key or header that was asked for once.

Each round asks for what was never asked for before, once the worker has filled what it keeps on purpose (made small
here). A container that grows by one a round, in each of three stretches of rounds, keeps what was asked for: a worker
of months would be full of it. The soak (T35) asks what tills and kitchens ask, and cannot find that.
"""

import gc
import threading
import weakref
from collections import deque
from collections.abc import Callable, Hashable
from datetime import date, timedelta
from functools import lru_cache, partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.integrations.identity import tokens
from service.persistence import standing
from service.persistence.clock import system_clock
from service.rest import costs_media, good_queries, known_paths, recent_answers
from service.use_cases import allowances, figure_timeline, snapshots
from service.use_cases.turns import Turns
from tests.identity_provider import a_provider
from tests.rest.small_kitchen import DISH, PRICE, Kitchen, a_use
from tests.rest.test_bearer_tokens import served

WARM, ROUNDS, STRETCHES, FEW = 20, 20, 3, 8
ONE_A_ROUND = ROUNDS * 3 // 4


def right(number: int) -> tuple[str, ...]:
    """Reads of days, codes and names that were never asked for before, each answered."""
    day, past = date(2030, 1, 1) + timedelta(number), date(2024, 1, 1) + timedelta(number)
    after = past + timedelta(1)
    return (f"/v1/dish-costs?as_of={day}", f"/v1/cut-costs?as_of={day}", f"/v1/dishes?as_of={day}",
            f"/v1/prices?as_of={day}", f"/v1/workbook.xlsx?as_of={day}", f"/v1/dish-costs?codes=none-{number}",
            f"/v1/dish-costs?pos_codes={number}", f"/v1/dish-costs?section=none-{number}",
            f"/v1/price-movements?from={past}&to={after}", f"/v1/theoretical-food-cost?from={past}&to={past}",
            f"/v1/sales?from={past}&to={past}", f"/v1/menu-engineering?from={past}&to={past}",
            f"/v1/food-cost-uncertainty?within_percent={number % 99 + 1}", f"/v1/margin-alerts?from={past}&to={past}",
            f"/?section=none-{number}")


def wrong(number: int) -> tuple[str, ...]:
    """The same, each refused."""
    past = date(2024, 1, 1) + timedelta(number)
    return (f"/v1/dish-costs/none-{number}", f"/v1/dish-costs?cursor=none-{number}", f"/v1/cut-costs/none-{number}",
            f"/v1/recipe-costs/none-{number}", f"/v1/dishes/none-{number}", f"/v1/dish-costs/none-{number}/working",
            f"/v1/ingredients/none-{number}/impact", f"/nowhere/{number}", f"/v1/dish-costs?nonsense-{number}=1",
            f"/v1/dish-costs?as_of=none-{number}", f"/v1/price-movements?from={past}&to={past}",
            f"/v1/sales/{past}", f"/v1/changes?after=0-{number}", f"/v1/price-proposals/{number + 1}",
            f"/v1/suppliers/none-{number}/items", f"/feeds/none-{number}/dish-costs.csv",
            f"/v1/webhooks/none-{number}/deliveries", f"/docs/problems/none-{number}", f"/dishes/none-{number}",
            f"/prices?ingredient=none-{number}", f"/what-if?ingredient=none-{number}")


def ask(kitchen: Kitchen, number: int) -> None:
    """One round: days, codes, names, keys, headers, files and bodies that were never asked before."""
    client, headers = kitchen.client, kitchen.headers
    for path in right(number):
        held(client.get(path, headers=headers), 200)
    for path in wrong(number):
        held(client.get(path, headers=headers), 404, 422)
    for more in ({"X-Request-Id": f"none-{number}"}, {"If-None-Match": f'"{number}"'}, {"Prefer": f"none-{number}"}):
        held(client.get("/v1/dish-costs", headers=headers | more), 200)
    held(client.get("/v1/dish-costs", headers=headers | {"Accept": f"none/none-{number}"}), 406)
    held(client.get("/v1/dish-costs", headers={"Authorization": f"Bearer none-{number}"}), 401)
    held(client.open("/v1/dish-costs", method=f"NONE{number}", headers=headers), 405)
    held(client.post("/session", data={"key": f"none-{number}"}), 401)
    for path, body in ((f"/v1/ingredients/none-{number}/prices", {"amount": str(number)}),
                       ("/v1/what-if", {"prices": [{"ingredient": f"none-{number}", "amount": str(number)}]}),
                       ("/v1/what-if", {f"none-{number}": 1})):
        held(client.post(path, json=body, headers=headers), 404, 422)


def held(answer: TestResponse, *expected: int) -> None:
    """An answer is what the round is about: one that was refused for another reason would leave nothing behind."""
    assert answer.status_code in expected, f"{answer.request.method} {answer.request.path}: {answer.text}"


def writing(kitchen: Kitchen) -> Callable[[int], None]:
    """Rounds of what is written: a price and a dish, a list and a dish that are refused, and what moved by it.

    The ledger is longer by them, and what a kitchen keeps of its past stands in tuples, which are not looked at.
    """
    client, over = kitchen.client, kitchen.headers | {"If-Match": "*"}
    cursor = kitchen.read("/v1/changes")["next_cursor"]

    def write(number: int) -> None:
        nonlocal cursor
        body = DISH | {"menu_price": f"{number + 1}.50"}
        held(client.put("/v1/dishes/soup", json=body, headers=over), 200)
        keyed = kitchen.headers | {"Idempotency-Key": f"price-{number:04}"}
        held(client.post("/v1/ingredients/leg/prices", json=PRICE | {"amount": f"{number + 1}"}, headers=keyed), 201)
        body |= {"lines": [a_use(f"ingredient none-{number}")]}
        held(client.put("/v1/dishes/soup", json=body, headers=over), 422)
        keyed |= {"Idempotency-Key": f"list-{number:04}"}
        held(client.post(f"/v1/price-proposals?supplier=mill&file_name=list-{number}.csv", data=f"none-{number}",
                         content_type="text/csv", headers=keyed), 422)
        moved = kitchen.read(f"/v1/changes?after={cursor}")
        assert moved["data"], moved
        cursor = moved["next_cursor"]

    return write


@pytest.fixture
def small_keepings(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is kept on purpose, up to a bound, has a bound that a few rounds reach."""
    monkeypatch.setattr(snapshots, "KEPT", FEW)
    monkeypatch.setattr(snapshots, "KEPT_WITH_ANSWERS", FEW // 2)
    monkeypatch.setattr(good_queries, "MOST_REMEMBERED", FEW)
    monkeypatch.setattr(known_paths, "MOST_REMEMBERED", FEW)
    monkeypatch.setattr(recent_answers.RecentAnswers.__init__, "__defaults__", (5_000,))
    monkeypatch.setattr(allowances, "FORGOTTEN_AFTER", 0)
    monkeypatch.setattr(tokens, "MOST_REMEMBERED", FEW)
    monkeypatch.setattr(figure_timeline, "KEPT_NEXT_DAYS", FEW)
    monkeypatch.setattr(figure_timeline, "MOST_KEPT_CHANGES", FEW)
    monkeypatch.setattr(standing, "_read", lru_cache(FEW)(standing._read.__wrapped__))
    monkeypatch.setattr(costs_media, "_liked_best", lru_cache(FEW)(costs_media._liked_best.__wrapped__))


def sizes() -> dict[int, int]:
    """How much is in each container that is there, by its id."""
    gc.collect()
    return {id(one): size(one) for one in gc.get_objects() if isinstance(one, (dict, list, set, deque))}


def size(one: Any) -> int:
    """How much is in a container; of weak references those that lead somewhere: SQLite's driver keeps some 200 to
    cursors before it looks which are still in use."""
    if type(one) is list and one and type(one[0]) is weakref.ref:
        return sum(each() is not None for each in one)
    return len(one)


def told(one: Any) -> str:
    """A container in words."""
    return f"{type(one).__name__} of {len(one)}: {str(one)[-200:]}"


def growing(ask: Callable[[int], None]) -> list[str]:
    """The containers that grow by one a round."""
    for number in range(WARM):
        ask(number)
    seen = [sizes()]
    for stretch in range(STRETCHES):
        for number in range(ROUNDS):
            ask(WARM + stretch * ROUNDS + number)
        seen.append(sizes())
    more = [{one for one, now in after.items() if now >= before.get(one, now) + ONE_A_ROUND}
            for before, after in pairwise(seen)]
    grown = set.intersection(*more)
    return [told(one) for one in gc.get_objects() if id(one) in grown]


@pytest.mark.usefixtures("small_keepings")
def test_what_was_asked_once_is_not_kept_for_good(kitchen: Kitchen) -> None:
    assert growing(partial(ask, kitchen)) == []


@pytest.mark.usefixtures("small_keepings")
def test_what_is_written_or_refused_leaves_no_more_than_the_ledger_has_of_it(kitchen: Kitchen) -> None:
    assert growing(writing(kitchen)) == []


@pytest.mark.usefixtures("small_keepings")
def test_tokens_and_their_subjects_are_not_kept_for_good(sqlite_template: Path, tmp_path: Path) -> None:
    """Of a provider that makes a subject for each job, a worker meets ever new ones."""
    path = tmp_path / "ledger.db"
    path.write_bytes(sqlite_template.read_bytes())
    with a_provider() as provider, served(path, oidc=provider.settings, requests_per_minute=5_000) as client:
        def poll(number: int) -> None:
            for subject, kid, expected in (f"job-{number}", "key-0", 200), ("ann", f"none-{number}", 401):
                token = provider.token(system_clock(), sub=subject, kid=kid, key=provider.keys["key-0"])
                held(client.get("/v1/dish-costs", headers={"Authorization": f"Bearer {token}"}), expected)

        assert growing(poll) == []


@pytest.mark.usefixtures("small_keepings")
def test_what_stays_of_each_request_is_found(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    """A turn to build that stays for each day that anybody asked for, as it was once: a lock and its day."""
    real = Turns.of
    turns: list[threading.RLock] = []

    def turn_of(self: Turns, name: Hashable) -> threading.RLock:
        turns.append(real(self, name))
        return turns[-1]

    def poll(number: int) -> None:
        held(kitchen.client.get(f"/v1/dish-costs?as_of={date(2030, 1, 1) + timedelta(number)}",
                                headers=kitchen.headers), 200)

    monkeypatch.setattr(Turns, "of", turn_of)
    assert [line for line in growing(poll) if line.startswith("list") and "locked" in line]
