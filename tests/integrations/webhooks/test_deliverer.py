"""The deliverer against receivers that fail, hang, redirect, go and come back. Receivers, calls and ledgers are real.

Signatures are judged by `standardwebhooks`, the library of the specification's own authors.
"""

import json
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from ipaddress import ip_network

import pytest
from standardwebhooks import Webhook as Verifier

from service.domain.webhook import SUBSCRIBED, DeliveryState, WebhookState
from service.domain.webhook_retries import TRIES, WAITS
from service.integrations.webhooks import deliverer as deliverer_module
from service.integrations.webhooks.deliverer import IN_FLIGHT_OF_ONE, LEASE, Deliverer
from service.integrations.webhooks.sending import CallLimits, sender
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.deliver_webhooks import KEPT_FOR, note, what_follows
from service.use_cases.keep_webhook import WebhookAsked, change_webhook, create_webhook, delete_webhook, rotate_secret
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.read_deliveries import read_delivery, replay_deliveries, replay_delivery, send_ping
from service.use_cases.webhook_sending import Came, Outcome, Send
from service.use_cases.webhooks_port import Span
from tests.conftest import SettableClock
from tests.receivers import Receiver, a_receiver, answers, gone, hangs, ok, redirects
from tests.use_cases.webhooks_heard import OFFICE, Teller, any_target

LOOPBACK = (ip_network("127.0.0.0/8"),)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with a_receiver() as listening:
        yield listening


@pytest.fixture
def send(clock: SettableClock) -> Send:
    return sender(LOOPBACK, limits=CallLimits(call_seconds=2), now=clock)


@pytest.fixture
def deliverer(ledger: SqlLedger, clock: SettableClock, send: Send) -> Deliverer:
    return Deliverer(ledger, Teller(ledger, clock).telling, send, clock)


def a_webhook_at(ledger: SqlLedger, receiver: Receiver) -> tuple[str, str]:
    """Its id and its secret."""
    made = create_webhook(ledger, WebhookAsked(receiver.url, SUBSCRIBED), True, any_target, OFFICE).document
    return str(made["id"]), str(made["secret"])


def state_of(ledger: SqlLedger, webhook: str) -> WebhookState:
    there = ledger.webhooks.one(webhook)
    assert there is not None
    return there.state


def test_a_message_arrives_signed(ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
                                  ) -> None:
    webhook, secret = a_webhook_at(ledger, receiver)
    clock.now = datetime.now(UTC)  # the verifier holds the time against its own clock
    sent = send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    (came,) = receiver.wait_for(1)
    body = Verifier(secret).verify(came.body, dict(came.fields))
    assert (body["type"], body["data"]["webhook"], body["data"]["sequence"]) == ("ping", webhook, 1)
    assert came.fields["webhook-id"] == sent["id"]
    assert came.fields["Content-Type"] == "application/json"
    assert read_delivery(ledger, webhook, sent["id"])["state"] == "delivered"


def test_what_is_done_in_passing_is_done_when_there_is_nothing_to_send(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, send: Send
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    sent_by_then: list[int] = []
    deliverer = Deliverer(ledger, Teller(ledger, clock).telling, send, clock,
                          in_passing=lambda: sent_by_then.append(len(receiver.requests)))
    send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    assert sent_by_then
    assert receiver.wait_for(1)


def test_old_messages_are_removed_also_where_no_deliverer_lives_for_long(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, send: Send
) -> None:
    """As where `seamcost deliver --once` is run now and then: each begins anew, and is over in a moment."""
    webhook, _ = a_webhook_at(ledger, receiver)
    for _ in range(3):
        send_ping(ledger, webhook, clock())
        Deliverer(ledger, Teller(ledger, clock).telling, send, clock).run_until_idle()
        clock.move(days=KEPT_FOR.days - 10)
    assert [one.sequence for one in ledger.webhooks.deliveries(webhook, None, 10, None)] == [3, 2]


def test_of_webhooks_that_were_deleted_it_keeps_nothing(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer, monkeypatch: pytest.MonkeyPatch
) -> None:
    stays, _ = a_webhook_at(ledger, receiver)
    goes, _ = a_webhook_at(ledger, receiver)
    receiver.will(answers(500))
    for webhook in (stays, goes):
        send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    assert deliverer._failing == deliverer._served.keys() == {stays, goes}
    delete_webhook(ledger, goes, Condition(any_tag=True), OFFICE)
    monkeypatch.setattr(deliverer_module, "PRUNING_EVERY_SECONDS", 0)
    deliverer.run_until_idle()
    assert deliverer._failing == deliverer._served.keys() == {stays}


def test_where_no_thread_was_to_be_had_the_message_goes_out_once_its_lease_is_over(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fault made for the test. What was counted as in flight would hold its place for good."""
    def no_more_threads(_: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    webhook, _ = a_webhook_at(ledger, receiver)
    for _ in range(IN_FLIGHT_OF_ONE):
        send_ping(ledger, webhook, clock())
        with monkeypatch.context() as short, pytest.raises(RuntimeError):
            short.setattr(threading.Thread, "start", no_more_threads)
            deliverer.turn()
    clock.now += LEASE
    assert deliverer.turn()
    assert len(receiver.wait_for(IN_FLIGHT_OF_ONE)) == IN_FLIGHT_OF_ONE


def test_a_receiver_that_fails_and_comes_back_gets_the_same_bytes_with_another_signature(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    receiver.will(answers(500), redirects("/elsewhere"), hangs(), ok())
    sent = send_ping(ledger, webhook, clock())
    for seconds in (0, 6, 331, 1_981):
        clock.move(seconds=seconds)
        deliverer.run_until_idle()
    came = receiver.wait_for(4)
    assert len({one.body for one in came}) == len({one.fields["webhook-id"] for one in came}) == 1
    assert len({one.fields["webhook-signature"] for one in came}) == 4
    assert {one.path for one in came} == {"/hook"}
    log = read_delivery(ledger, webhook, sent["id"])
    assert [(one["came"], one["status"]) for one in log["attempts"]] == [
        ("refused", 500), ("refused", 302), ("timed_out", None), ("delivered", 204)]
    assert (log["state"], log["tries"]) == ("delivered", 4)


def test_after_three_days_in_vain_it_is_dead_and_so_is_the_webhook_which_nothing_reached(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    receiver.will(answers(500))
    sent = send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    for wait in WAITS:
        assert state_of(ledger, webhook) is WebhookState.ACTIVE
        clock.move(seconds=wait * 1.1 + 1)
        deliverer.run_until_idle()
    assert len(receiver.requests) == TRIES
    (dead,) = ledger.webhooks.deliveries(webhook, None, 10, DeliveryState.DEAD.value)
    assert (dead.id, dead.tries, dead.due_at) == (sent["id"], TRIES, None)
    assert state_of(ledger, webhook) is WebhookState.DISABLED
    receiver.will(ok())
    clock.move(days=1)
    deliverer.run_until_idle()
    assert len(receiver.requests) == TRIES
    change_webhook(ledger, webhook, WebhookAsked(receiver.url, SUBSCRIBED), True, any_target, Condition(any_tag=True),
                   OFFICE)
    assert replay_deliveries(ledger, webhook, Span(), clock()) == 1
    deliverer.run_until_idle()
    assert receiver.requests[-1].body == receiver.requests[0].body
    assert read_delivery(ledger, webhook, sent["id"])["state"] == "delivered"


def test_a_message_that_alone_is_refused_dies_alone(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    bad = send_ping(ledger, webhook, clock())["id"]
    receiver.will(lambda answering: answering.whole(400 if answering.headers["webhook-id"] == bad else 204, {}, b""))
    deliverer.run_until_idle()
    for wait in WAITS:
        good = send_ping(ledger, webhook, clock())["id"]
        clock.move(seconds=wait * 1.1 + 1)
        deliverer.run_until_idle()
        assert read_delivery(ledger, webhook, good)["state"] == "delivered"
    assert read_delivery(ledger, webhook, bad)["state"] == "dead"
    assert state_of(ledger, webhook) is WebhookState.ACTIVE


def test_gone_ends_the_webhook_and_what_waits(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    receiver.will(answers(500), gone())
    for _ in range(2):
        send_ping(ledger, webhook, clock())
        deliverer.run_until_idle()
    assert state_of(ledger, webhook) is WebhookState.GONE
    assert [one.state.value for one in ledger.webhooks.deliveries(webhook, None, 10, None)] == ["dead", "cancelled"]
    clock.move(days=1)
    deliverer.run_until_idle()
    assert len(receiver.requests) == 2


def test_a_receiver_that_was_left_is_gone_and_the_webhook_that_moved_is_not(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver
) -> None:
    """The old address answers 410 to what was on its way while the office led the webhook to the new one."""
    webhook, _ = a_webhook_at(ledger, receiver)
    send_ping(ledger, webhook, clock())
    (claimed,) = ledger.webhooks.claim(webhook, 1, clock(), clock() + timedelta(seconds=90))
    moved = WebhookAsked("https://moved.example/hook", SUBSCRIBED)
    change_webhook(ledger, webhook, moved, True, any_target, Condition(any_tag=True), OFFICE)
    note(ledger, [what_follows(claimed, Outcome(Came.GONE, 410), clock())])
    assert state_of(ledger, webhook) is WebhookState.ACTIVE


def test_retry_after_is_honoured_and_the_receiver_spared(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    receiver.will(answers(503, retry_after="600"), ok())
    send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    send_ping(ledger, webhook, clock())
    clock.move(seconds=599)
    deliverer.run_until_idle()
    assert len(receiver.requests) == 1
    clock.move(seconds=2)
    deliverer.run_until_idle()
    assert len(receiver.requests) == 3


def test_one_that_hangs_holds_up_nobody_else(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    with a_receiver() as slow:
        hanging, _ = a_webhook_at(ledger, slow)
        slow.will(hangs())
        for _ in range(10):
            send_ping(ledger, hanging, clock())
            send_ping(ledger, webhook, clock())
        running = threading.Thread(target=deliverer.run, daemon=True)
        began = time.monotonic()
        running.start()
        receiver.wait_for(10)
        assert len(slow.requests) <= 4, "few of one webhook are in flight"
        assert time.monotonic() - began < 20
        deliverer.stop()
        running.join(20)
        assert not running.is_alive()


def test_many_that_hang_and_always_have_more_leave_their_turn_to_others(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver
) -> None:
    """Three times as many hang as may be in flight at once, and all of them come before the good one by their ids."""
    send = sender(LOOPBACK, limits=CallLimits(call_seconds=1), now=clock)
    deliverer = Deliverer(ledger, Teller(ledger, clock).telling, send, clock, in_flight=4)
    with a_receiver() as slow:
        slow.will(hangs())
        *_, good = webhooks = sorted(a_webhook_at(ledger, slow)[0] for _ in range(13))
        change_webhook(ledger, good, WebhookAsked(receiver.url, SUBSCRIBED), True, any_target, Condition(any_tag=True),
                       OFFICE)
        for _ in range(8):
            for webhook in webhooks:
                send_ping(ledger, webhook, clock())
        running = threading.Thread(target=deliverer.run, daemon=True)
        running.start()
        receiver.wait_for(1)
        assert len(slow.requests) <= 16, "each of them was asked once before, and some again"
        deliverer.stop()
        running.join(20)


def test_while_the_secret_is_rotated_either_verifies_and_then_the_new_one_alone(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    clock.now = datetime.now(UTC)
    webhook, old = a_webhook_at(ledger, receiver)
    new = str(rotate_secret(ledger, webhook, None, timedelta(hours=1), OFFICE).document["secret"])
    send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    (came,) = receiver.wait_for(1)
    assert len(came.fields["webhook-signature"].split()) == 2
    for secret in (old, new):
        assert Verifier(secret).verify(came.body, dict(came.fields))["type"] == "ping"
    rotate_secret(ledger, webhook, None, timedelta(0), OFFICE)
    send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    assert len(receiver.wait_for(2)[1].fields["webhook-signature"].split()) == 1


def test_a_message_is_replayed_by_its_id(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    sent = send_ping(ledger, webhook, clock())
    deliverer.run_until_idle()
    assert replay_delivery(ledger, webhook, sent["id"], clock())["state"] == "waiting"
    deliverer.run_until_idle()
    first, again = receiver.wait_for(2)
    assert (first.body, first.fields["webhook-id"]) == (again.body, again.fields["webhook-id"])
    assert json.loads(again.body)["data"]["sequence"] == 1


def test_what_a_deliverer_had_when_it_was_killed_another_sends(
    ledger: SqlLedger, clock: SettableClock, receiver: Receiver, deliverer: Deliverer
) -> None:
    webhook, _ = a_webhook_at(ledger, receiver)
    send_ping(ledger, webhook, clock())
    assert ledger.webhooks.claim(webhook, 1, clock(), clock() + timedelta(seconds=90)), "had, and never sent"
    deliverer.run_until_idle()
    assert receiver.requests == []
    clock.move(seconds=91)
    deliverer.run_until_idle()
    (came,) = receiver.wait_for(1)
    assert json.loads(came.body)["data"]["sequence"] == 1


def test_it_says_that_it_is_at_work_for_turns_that_came_through_alone(
        deliverer: Deliverer, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three turns: the ledger is away, something breaks, and all is well."""
    come = iter([LedgerUnavailable("away"), ValueError("a defect"), None])
    told = []

    def turn() -> bool:
        fault = next(come)
        told.append(str(fault))
        if fault is None:
            deliverer.stop()
            return False
        raise fault

    monkeypatch.setattr(deliverer, "turn", turn)
    monkeypatch.setattr(deliverer_module, "FAULT_PAUSE_SECONDS", 0.0)
    deliverer.run(lambda: told.append("at work"))
    assert told == ["away", "a defect", "None", "at work"]
