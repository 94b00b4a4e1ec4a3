"""Head office is told when something moves: webhooks over HTTP, delivered by real processes to real receivers.

Signatures are judged by `standardwebhooks`, the library of the specification's own authors. SEAMCOST_WEBHOOK_PRICES
says how many prices are written while deliverers are killed: for the long run by hand.
"""

import json
import os
import random
import threading
import time
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from standardwebhooks import Webhook as Verifier

from tests.receivers import Received, Receiver, a_receiver, answers, gone, hangs, hangs_up, ok, redirects, says
from tests.stories.delivering import LOOPBACK, PATIENCE, deliver_once, deliverers
from tests.stories.running_service import Client, RunningService

FEW = 12
PRICES = int(os.environ.get("SEAMCOST_WEBHOOK_PRICES", FEW))
TROUBLES_A_PRICE = 6
"""A price moves some dishes, each of which is told."""
EVENTS = ["price.changed", "dish.cost_changed", "dish.outside_target", "dish.back_within_target",
          "price_proposal.waiting"]


@pytest.fixture(scope="module", autouse=True)
def loopback_may_be_called() -> Iterator[None]:
    """Before the service starts: an operator's setting."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SEAMCOST_WEBHOOK_NETWORKS", LOOPBACK)
        yield


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with a_receiver() as listening:
        yield listening


@pytest.fixture
def office(service: RunningService) -> Client:
    return service.client("webhooks:manage", "read")


def a_webhook(client: Client, url: str, **facts: Any) -> Any:
    made = client.post("/v1/webhooks", {"url": url, "events": EVENTS, **facts})
    assert made.status_code == 201, made.text
    return made.json()


def a_price(service: RunningService, amount: str, day: date) -> None:
    service.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": amount, "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": day.isoformat()})


def holds_signature(received: Received, secret: str) -> bool:
    """Whether one of the signatures is the one that the library makes. Its clock is not the story's, so it signs."""
    at = datetime.fromtimestamp(int(received.fields["webhook-timestamp"]), UTC)
    made = Verifier(secret).sign(received.fields["webhook-id"], at, received.body.decode())
    return made in received.fields["webhook-signature"].split()


def test_a_webhook_is_made_read_changed_and_deleted(service: RunningService, office: Client, receiver: Receiver
                                                    ) -> None:
    made = office.post("/v1/webhooks", {"url": receiver.url, "events": EVENTS}, idempotency_key='"one"')
    again = office.post("/v1/webhooks", {"url": receiver.url, "events": EVENTS}, idempotency_key='"one"')
    assert made.json()["secret"].startswith("whsec_")
    assert again.json() == {**made.json(), "secret": None}
    path = f"/v1/webhooks/{made.json()['id']}"
    shown = office.get(path)
    assert "secret" not in shown.json()
    assert office.get(path, if_none_match=shown.headers["ETag"]).status_code == 304
    assert [one["id"] for one in office.read("/v1/webhooks")["data"]] == [made.json()["id"]]
    changed = {**shown.json(), "events": ["price.changed"], "description": "the office"}
    assert office.put(path, changed).status_code == 428
    assert office.put(path, changed, if_match='"1"').status_code == 412
    put = office.put(path, changed, if_match=shown.headers["ETag"])
    assert (put.status_code, put.json()["events"]) == (200, ["price.changed"])
    assert office.put(path, changed).json() == put.json(), "equal to what stands"
    entries = [entry for entry in service.admin.read("/v1/changes?limit=1000")["data"] if entry["kind"] == "webhook"]
    assert [entry["action"] for entry in entries] == ["create_webhook", "change_webhook"]
    assert not any(made.json()["secret"] in json.dumps(entry) or "/hook" in json.dumps(entry) for entry in entries)
    assert office.ask("DELETE", path).status_code == 428
    assert office.ask("DELETE", path, if_match="*").status_code == 204
    assert office.get(path).status_code == 404


def test_what_cannot_be_is_refused_with_its_place_and_the_mend(service: RunningService, office: Client) -> None:
    refused = office.post("/v1/webhooks", {"url": "https://[::1]/x", "events": EVENTS})
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "#/url")
    refused = office.post("/v1/webhooks", {"url": "http://127.0.0.1:9/", "events": ["dish.burnt"], "secret": "x"})
    assert refused.json()["errors"][0]["pointer"] == "#/events/0"
    refused = office.post("/v1/webhooks", {"url": "http://127.0.0.1:9/", "events": EVENTS, "secret": "whsec_c2hvcnQ="})
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "#/secret")
    thin = service.client("webhooks:manage")
    refused = thin.post("/v1/webhooks", {"url": "http://127.0.0.1:9/", "events": EVENTS, "figures": True})
    assert (refused.status_code, refused.json()["scope"]) == (403, "read")
    assert service.client("read").get("/v1/webhooks").status_code == 403
    assert office.read("/v1/webhooks")["data"] == []


def test_a_ping_the_log_a_rotation_a_replay_and_an_end(service: RunningService, office: Client, receiver: Receiver
                                                       ) -> None:
    made = a_webhook(office, receiver.url)
    path = f"/v1/webhooks/{made['id']}"
    receiver.will(answers(500), ok())
    sent = office.ask("POST", f"{path}/ping")
    assert sent.status_code == 202
    deliver_once(service)
    log = office.read(f"{path}/deliveries/{sent.json()['id']}")
    assert (log["state"], [one["status"] for one in log["attempts"]]) == ("waiting", [500])
    assert office.read(f"{path}/deliveries?state=waiting")["data"][0]["id"] == sent.json()["id"]
    _move(service, hours=1)
    rotated = office.post(f"{path}/rotate-secret", {})
    assert rotated.json()["old_valid_until"] is not None
    deliver_once(service)
    _, came = receiver.wait_for(2)
    assert [holds_signature(came, one) for one in (made["secret"], rotated.json()["secret"])] == [True, True]
    assert office.ask("POST", f"{path}/deliveries/{sent.json()['id']}/replay").status_code == 202
    assert office.post(f"{path}/replay", {"first_sequence": 1, "undelivered_only": False}).json() == {"replayed": 0}
    _move(service, days=1, hours=1)
    deliver_once(service)
    replayed = receiver.wait_for(3)[2]
    assert (replayed.body, holds_signature(replayed, made["secret"])) == (came.body, False)
    receiver.will(gone())
    for _ in range(2):
        office.ask("POST", f"{path}/ping")
    deliver_once(service)
    ended = office.read(path)
    assert (ended["state"], ended["active"]) == ("gone", False)
    assert "410" in ended["state_reason"]
    refused = office.ask("POST", f"{path}/ping")
    assert (refused.status_code, refused.json()["type"]) == (409, "/docs/problems/webhook-not-active")
    assert [one["sequence"] for one in office.everything(f"{path}/deliveries?limit=1")] == [3, 2, 1]
    assert office.ask("DELETE", path, if_match="*").status_code == 204


def test_midnight_is_told_with_no_write(service: RunningService, office: Client, receiver: Receiver) -> None:
    made = a_webhook(office, receiver.url, figures=True)
    tomorrow = _today(service) + timedelta(days=1)
    a_price(service, "30.00", day=tomorrow)
    deliver_once(service)
    assert receiver.requests == []
    revision = service.admin.head_revision()
    service.move_to(tomorrow)
    deliver_once(service)
    told = [json.loads(one.body) for one in receiver.wait_for(3)]
    costs = [one["data"] for one in told if one["type"] == "dish.cost_changed"]
    cap = next(one for one in costs if one["dish"] == "grilled-cap")
    assert (cap["moved_by"], cap["as_of"]) == ("date", tomorrow.isoformat())
    shown = service.admin.read("/v1/dish-costs/grilled-cap")
    assert {name: shown[name] for name in cap["after"]} == cap["after"]
    assert service.admin.head_revision() == revision
    assert all(holds_signature(one, made["secret"]) for one in receiver.requests)
    assert office.ask("DELETE", f"/v1/webhooks/{made['id']}", if_match="*").status_code == 204


@pytest.mark.timeout(300 + 10 * PRICES)
def test_every_event_arrives_at_least_once_whatever_happens(service: RunningService, office: Client, receiver: Receiver
                                                            ) -> None:
    """Two deliverers, one killed at random again and again; a receiver that hangs once, and fails more often than not,
    in six ways, for as long as prices are written."""
    chance = random.Random(6)
    today = _today(service)
    with a_receiver() as bad, deliverers(service, 2) as delivering:
        troubles = [answers(500), answers(503), redirects("/elsewhere"), hangs_up(), says(b"HTTP/1.1 20"),
                    answers(429, retry_after="1"), *[ok()] * 5]
        bad.will(hangs(), *chance.choices(troubles, k=30 + TROUBLES_A_PRICE * (PRICES - FEW)), ok())
        webhooks = {receiver: a_webhook(office, receiver.url), bad: a_webhook(office, bad.url, figures=True)}
        begun = service.admin.read("/v1/dish-costs?limit=1")
        begun_at = f"from_revision={begun['revision']}&from_date={begun['as_of']}"
        writer = threading.Thread(target=_write_prices, args=(service, today, PRICES))
        writer.start()
        for _ in range(max(4, PRICES // 10)):
            time.sleep(chance.uniform(0.5, 1.5))
            delivering.kill_one(chance.randrange(2))
            delivering.start()
        writer.join()
        for day in (today, today + timedelta(days=6)):
            service.move_to(day)
            _until_delivered(service, office, webhooks, begun_at)
        delivering.stop()
        for receiving, made in webhooks.items():
            _hold(receiving, made, _changes(service, begun_at))
            for one in receiving.requests:
                service.validator.check_told(json.loads(one.body))


def _hold(receiving: Receiver, made: Any, feed: list[Any]) -> None:
    """Every number came, signed, the same bytes each time; and the costs told are those of the change feed, once."""
    bodies: dict[str, set[bytes]] = {}
    for one in receiving.requests:
        bodies.setdefault(one.fields["webhook-id"], set()).add(one.body)
        assert holds_signature(one, made["secret"])
    assert {len(each) for each in bodies.values()} == {1}
    told = [json.loads(body) for (body,) in bodies.values()]
    assert sorted(one["data"]["sequence"] for one in told) == list(range(1, len(told) + 1))
    costs = _costs_told(receiving)
    assert costs == Counter((change["dish"], change["revision"], change["as_of"]) for change in feed)
    assert len(costs) > 20


def _costs_told(receiving: Receiver) -> "Counter[tuple[str, int, str]]":
    """How many messages, repeats apart, told of a dish at a place."""
    messages = {one.fields["webhook-id"]: json.loads(one.body) for one in receiving.requests}
    return Counter((one["data"]["dish"], one["data"]["revision"], one["data"]["as_of"]) for one in messages.values()
                   if one["type"] == "dish.cost_changed")


def _today(service: RunningService) -> date:
    """The business day, at its noon: it never goes back, though stories before may have moved the clock on."""
    today = date.fromisoformat(service.admin.read("/v1/dish-costs?limit=1")["as_of"])
    service.move_to(today)
    return today


def _write_prices(service: RunningService, today: date, count: int) -> None:
    later = today + timedelta(days=3)
    for number in range(count):
        a_price(service, f"{13 + number * 1.5:.2f}", day=later if number % 4 == 3 else today)
        time.sleep(0.2)


def _changes(service: RunningService, begun_at: str) -> list[Any]:
    """The change feed from a place to its end, page by page."""
    changes: list[Any] = []
    place, more = begun_at, True
    while more:
        page = service.admin.read(f"/v1/dish-costs/changes?limit=1000&{place}")
        changes += page["data"]
        place, more = f"after={page['next_cursor']}", page["more"]
    return changes


def _until_delivered(service: RunningService, office: Client, webhooks: dict[Receiver, Any], begun_at: str) -> None:
    """Move the clock on while anything is not told or waits, so that retries come due and leases run out. How long it
    all takes is the machine's; that nothing more comes is a fault."""
    came, until = -1, 0.0
    while True:
        if came != (came := sum(len(receiving.requests) for receiving in webhooks)):
            until = time.monotonic() + PATIENCE
        if not any(office.read(f"/v1/webhooks/{made['id']}/deliveries?state=waiting&limit=1")["data"]
                   for made in webhooks.values()):
            changes = _changes(service, begun_at)
            if all(len(_costs_told(receiving)) >= len(changes) for receiving in webhooks):
                return
        assert time.monotonic() < until, "something is not told, or waits, and nothing comes any more"
        _move(service, minutes=30)
        time.sleep(1)


def _move(service: RunningService, **by: float) -> None:
    clock_file = service.settings.clock_file
    assert clock_file is not None
    offset = int(clock_file.read_text()) + timedelta(**by) // timedelta(seconds=1)
    fresh = clock_file.with_suffix(".new")
    fresh.write_text(str(offset))
    fresh.replace(clock_file)
