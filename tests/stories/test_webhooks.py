"""A head office that is told when something moves: by a receiver that fails, hangs, redirects, ends and comes back.

The receivers are real HTTP servers on the loopback (which the setting allows here), the deliverer is the command beside
a running service. Sources of the judges: the library `standardwebhooks` verifies every signature; Standard Webhooks
1.0.0 says what counts as taken, what ends a webhook, and that the id and the bytes of a message stay the same.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta, tzinfo
from json import loads
from time import monotonic, sleep
from typing import Any

import pytest
import standardwebhooks.webhooks
from standardwebhooks import Webhook, WebhookVerificationError

from tests.receivers import Received, Receiver, a_receiver, answers, gone, hangs, hangs_up, ok, redirects
from tests.stories.delivering import deliverers
from tests.stories.running_service import WEDNESDAY, Client, RunningService, set_clock

LISTED = "/v1/webhooks"


@pytest.fixture(scope="module", autouse=True)
def loopback_allowed() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SEAMCOST_WEBHOOK_NETWORKS", "127.0.0.0/8")
        yield


@pytest.fixture(autouse=True)
def service_time(service: RunningService, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The verifying library reads the clock that the service goes by, since it refuses messages from another day."""

    class ServiceTime(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:
            return datetime.now(tz) + timedelta(seconds=offset(service))

    monkeypatch.setattr(standardwebhooks.webhooks, "datetime", ServiceTime)
    yield
    assert service.settings.clock_file is not None
    set_clock(service.settings.clock_file, WEDNESDAY)


@contextmanager
def delivering(service: RunningService) -> Iterator[None]:
    """A deliverer in a process of its own, until the block is left."""
    with deliverers(service, 1) as found:
        yield
        assert found.running[0].process.poll() is None, found.running[0].said()
        found.stop()


def offset(service: RunningService) -> int:
    assert service.settings.clock_file is not None
    return int(service.settings.clock_file.read_text())


def let_pass(service: RunningService, **time: int) -> None:
    """Have the clock of every process go on at once, as when so much time had passed."""
    assert service.settings.clock_file is not None
    fresh = service.settings.clock_file.with_suffix(".new")
    fresh.write_text(str(offset(service) + timedelta(**time) // timedelta(seconds=1)))
    fresh.replace(service.settings.clock_file)


def made(client: Client, receiver: Receiver, *events: str, **more: Any) -> dict[str, Any]:
    answer = client.post(LISTED, {"url": receiver.url, "events": list(events), **more})
    assert answer.status_code == 201, answer.text
    kept: dict[str, Any] = answer.json()
    return kept


def a_price(service: RunningService, ingredient: str, amount: str) -> None:
    service.admin.keep(f"/v1/ingredients/{ingredient}/prices", {
        "supplier": "harrowick", "amount": amount, "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": WEDNESDAY.isoformat(), "effective_to": None, "reference": "By phone"})


def log_of(client: Client, webhook: dict[str, Any], message: str) -> list[tuple[str, int | None]]:
    attempts = client.read(f"{LISTED}/{webhook['id']}/deliveries/{message}")["attempts"]
    return [(attempt["came"], attempt["status"]) for attempt in attempts]


def until(told: Callable[[], bool], seconds: float = 30) -> None:
    end = monotonic() + seconds
    while not told():
        assert monotonic() < end, "it did not come about in time"
        sleep(0.1)


def until_tried(client: Client, webhook: dict[str, Any], messages: list[str], times: int) -> None:
    """Wait until what came of so many tries of every message is noted: before that the clock must not go on, since the
    next try is reckoned from then."""
    until(lambda: all(len(log_of(client, webhook, one)) >= times for one in messages), seconds=60)


def verified(secret: str, received: Received) -> bool:
    try:
        Webhook(secret).verify(received.body, dict(received.fields.items()))
    except WebhookVerificationError:
        return False
    return True


def ids(requests: list[Received]) -> list[str]:
    return [request.fields["webhook-id"] for request in requests]


def test_a_receiver_that_fails_hangs_redirects_and_comes_back_has_every_message(service: RunningService) -> None:
    """Each try is made when the clock has gone on by more than the wait before it; the call that hangs takes 20 s."""
    with a_receiver() as elsewhere, a_receiver() as receiver:
        webhook = made(service.admin, receiver, "price.changed")
        receiver.will(answers(500), answers(503), hangs_up())
        for ingredient in ("spinach", "carrot", "leek"):
            a_price(service, ingredient, "9.90")
        with delivering(service):
            messages = list(dict.fromkeys(ids(receiver.wait_for(3))))
            until_tried(service.admin, webhook, messages, times=1)
            receiver.will(hangs())
            let_pass(service, seconds=60)
            receiver.wait_for(4)
            receiver.will(redirects(elsewhere.url))
            until_tried(service.admin, webhook, messages, times=2)
            let_pass(service, minutes=10)
            until_tried(service.admin, webhook, messages, times=3)
            receiver.close()
            let_pass(service, minutes=50)
            until(lambda: {log_of(service.admin, webhook, one)[-1][0] for one in messages} == {"not_reached"})
            with a_receiver(port=receiver.port) as back:
                let_pass(service, hours=7)
                until(lambda: set(ids(back.requests)) >= set(messages) and len(messages) == 3)
                until(lambda: all(log_of(service.admin, webhook, one)[-1] == ("delivered", 204) for one in messages))
                came_back = list(back.requests)
    assert elsewhere.requests == []
    assert all(verified(webhook["secret"], request) for request in came_back)
    bodies = {(request.fields["webhook-id"], request.body) for request in [*receiver.requests, *came_back]}
    assert len(bodies) == len(messages) == 3
    assert {loads(request.body)["data"]["ingredient"] for request in came_back} == {"spinach", "carrot", "leek"}
    tries = {came for one in messages for came in log_of(service.admin, webhook, one)}
    assert {("refused", 500), ("refused", 503), ("timed_out", None), ("refused", 302), ("not_reached", None)} <= tries


def test_a_receiver_that_is_gone_is_told_nothing_more_until_it_is_switched_on_again(service: RunningService) -> None:
    with a_receiver() as receiver, delivering(service):
        webhook = made(service.admin, receiver, "price.changed")
        receiver.will(gone())
        a_price(service, "celery", "1.90")
        receiver.wait_for(1)
        path = f"{LISTED}/{webhook['id']}"
        until(lambda: service.admin.read(path)["state"] == "gone")
        receiver.will(ok())
        a_price(service, "celery", "1.95")
        let_pass(service, days=1)
        sleep(3)
        assert len(receiver.requests) == 1
        there = service.admin.get(path)
        assert there.json()["active"] is False
        on = service.admin.put(path, {"url": receiver.url, "events": ["price.changed"], "active": True},
                               if_match=there.headers["ETag"])
        assert (on.status_code, on.json()["state"]) == (200, "active")
        a_price(service, "celery", "2.05")
        *_, last = receiver.wait_for(2)
        assert verified(webhook["secret"], last)
        assert last.fields["webhook-id"] != receiver.requests[0].fields["webhook-id"]


def test_while_a_secret_is_rotated_both_verify_and_then_the_new_one_alone(service: RunningService) -> None:
    with a_receiver() as receiver, delivering(service):
        webhook = made(service.admin, receiver, "price.changed")
        path = f"{LISTED}/{webhook['id']}"
        rotated = service.admin.post(f"{path}/rotate-secret", {"old_valid_for_hours": 1})
        assert rotated.status_code == 200, rotated.text
        old, new = webhook["secret"], rotated.json()["secret"]
        assert service.admin.post(f"{path}/ping", None).status_code == 202
        [both] = receiver.wait_for(1)
        assert (verified(old, both), verified(new, both)) == (True, True)
        let_pass(service, hours=2)
        assert service.admin.post(f"{path}/ping", None).status_code == 202
        _, alone = receiver.wait_for(2)
        assert (verified(old, alone), verified(new, alone)) == (False, True)


def test_a_message_replayed_has_the_same_id_and_bytes_and_is_signed_anew(service: RunningService) -> None:
    with a_receiver() as receiver, delivering(service):
        webhook = made(service.admin, receiver, "dish.cost_changed")
        a_price(service, "potato", "3.75")
        first = receiver.wait_for(1)[0]
        message = first.fields["webhook-id"]
        until(lambda: log_of(service.admin, webhook, message) == [("delivered", 204)])
        let_pass(service, hours=1)
        again = service.admin.post(f"{LISTED}/{webhook['id']}/deliveries/{message}/replay", None)
        assert again.status_code == 202, again.text
        until(lambda: ids(receiver.requests).count(message) == 2)
        repeated = [request for request in receiver.requests if request.fields["webhook-id"] == message][1]
        assert repeated.body == first.body
        assert repeated.fields["webhook-timestamp"] != first.fields["webhook-timestamp"]
        assert verified(webhook["secret"], repeated)


@pytest.mark.parametrize("url", [
    "http://[2001:db8::1]/hook", "https://[::]/", "https://[::1]/", "https://[fe80::1]/", "https://[64:ff9b::a00:1]:8443/",
    "https://127.0.0.1/#x", "https://localhost\\\\@[::1]/", "ftp://127.0.0.1/", "http://hooks.invalid/",
])
def test_a_webhook_that_leads_inside_is_refused_with_the_mend(service: RunningService, url: str) -> None:
    answer = service.admin.post(LISTED, {"url": url, "events": ["price.changed"]})
    assert answer.status_code == 422, answer.text
    assert "#/url" in answer.text
