"""T09: a till never reads the past: a read on any worker that starts after a write was acknowledged shows it.

Three workers. A price is posted through one of them, chosen by chance; the moment it is acknowledged, a connection of
each worker reads the dish that stands on it, two plainly and one with the tag that it last saw, in an order of chance.
The right cost is known from outside: the dish is one kilogram of what was priced. Now and then a key is made, used on
every worker, revoked, and refused by each at its very next request. Meanwhile a till a worker polls with its tag, and
what it sees never goes back. A case is a pair of a write and a read after it.
"""

import random
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

import requests

from tests.reliability.programme import Programme, Run, Verdict
from tests.stories.running_service import Client, RunningService, running_service

WORKERS = 3
DISH = "/v1/dish-costs/plate"
REVOKED_EVERY = 40
APPS = {"": "service.wsgi:app", "believed_head": "tests.reliability.stale_wsgi:app"}
_MOST_FAULTS = 20


@dataclass
class Seen:
    """What was wrong, and how much was looked at."""

    faults: list[str] = field(default_factory=list)
    pairs: int = 0
    polls: int = 0
    unchanged: int = 0
    revoked: int = 0


def run(run: Run) -> Verdict:
    """Write, read everywhere, compare."""
    with running_service(run.database_url, run.folder, WORKERS, app=APPS[run.sabotage]) as service:
        _a_dish_of_one_kilogram(service)
        seen, ended = Seen(), threading.Event()
        polling = [threading.Thread(target=_poll, args=(client, ended, seen))
                   for client in service.clients_of_every_worker(service.admin).values()]
        for till in polling:
            till.start()
        try:
            workers = service.clients_of_every_worker(service.admin)
            _write_and_read(run, service, workers, seen)
        finally:
            ended.set()
            for till in polling:
                till.join(90)
    return Verdict(seen.pairs, tuple(seen.faults), {
        "workers": len(workers), "polls": seen.polls, "of them unchanged": seen.unchanged,
        "keys revoked": seen.revoked})


def _write_and_read(run: Run, service: RunningService, workers: Mapping[int, Client], seen: Seen) -> None:
    chance, tags, written = random.Random(run.seed), dict[int, str](), 0
    while seen.pairs < run.cases and len(seen.faults) < _MOST_FAULTS and run.in_time:
        written += 1
        cost = Decimal(chance.randint(100, 900_000)) / 100
        revision = _posted(chance.choice(list(workers.values())), cost)
        order = chance.sample(list(workers), len(workers))
        for pid in order:
            tag = tags.get(pid) if pid == order[-1] else None
            answer = _get(workers[pid], DISH, **({"If-None-Match": tag} if tag else {}))
            seen.pairs += 1
            if answer.status_code != 200 or Decimal(answer.json()["food_cost"]) != cost:
                seen.faults.append(f"pair {seen.pairs}: revision {revision} was acknowledged at {cost}, and worker "
                                   f"{pid} then answered {answer.status_code} {answer.text[:200]}")
            tags[pid] = answer.headers.get("ETag", "")
        if written % REVOKED_EVERY == 1:
            _revoke(service, workers, seen)


def _revoke(service: RunningService, workers: Mapping[int, Client], seen: Seen) -> None:
    made = service.admin.session.post(f"{service.address}/v1/keys", json={"name": "till", "scopes": ["costs:read"]},
                                      headers=_by(service.admin), timeout=60).json()
    key = {"Authorization": f"Bearer {made['key']}"}
    used = [client.session.get(client.address + DISH, headers=key, timeout=60).status_code
            for client in workers.values()]
    revoked = service.admin.session.delete(f"{service.address}/v1/keys/{made['id']}", headers=_by(service.admin),
                                           timeout=60).status_code
    after = [client.session.get(client.address + DISH, headers=key, timeout=60).status_code
             for client in workers.values()]
    seen.revoked += 1
    if (set(used), revoked // 100, set(after)) != ({200}, 2, {401}):
        seen.faults.append(f"a key was answered {used}, revoking it {revoked}, and after that it was answered {after}")


def _poll(client: Client, ended: threading.Event, seen: Seen) -> None:
    """Poll with the tag seen last; the revision told never goes back."""
    tag, newest = "", 0
    while not ended.wait(0.005):
        answer = _get(client, DISH, **({"If-None-Match": tag} if tag else {}))
        seen.polls += 1
        if answer.status_code == 304:
            seen.unchanged += 1
            continue
        tag, revision = answer.headers.get("ETag", ""), answer.json().get("revision", -1)
        if revision < newest:
            seen.faults.append(f"a till that had seen revision {newest} was shown {answer.text[:200]}")
        newest = max(newest, revision)


def _a_dish_of_one_kilogram(service: RunningService) -> None:
    for path, body in (
            ("/v1/suppliers/fenmoor", {"name": "Fenmoor"}),
            ("/v1/ingredients/cap", {"name": "Cap", "kind": "beef", "base_unit": "kg"}),
            ("/v1/ingredients/cap/prices", _price(Decimal("14.20"))),
            ("/v1/dishes/plate", {"name": "Plate", "portions": "1",
                                  "lines": [{"ingredient": "cap", "quantity": "1", "unit": "kg"}]})):
        service.admin.keep(path, body)


def _posted(client: Client, cost: Decimal) -> int:
    answer = client.session.post(f"{client.address}/v1/ingredients/cap/prices", json=_price(cost), headers=_by(client),
                                 timeout=60)
    assert answer.status_code == 201, answer.text
    return int(answer.json()["id"].partition("-")[0])


def _price(cost: Decimal) -> dict[str, str]:
    return {"supplier": "fenmoor", "amount": f"{cost:.2f}", "pack_quantity": "1", "pack_unit": "kg"}


def _get(client: Client, path: str, **headers: str) -> requests.Response:
    return client.session.get(client.address + path, headers=_by(client) | headers, timeout=60)


def _by(client: Client) -> dict[str, str]:
    return {"Authorization": f"Bearer {client.key}"}


PROGRAMME = Programme("fresh_reads", "T09", "a till never reads the past", "pairs", 60, 10_000, run,
                      sabotages=("believed_head",))
