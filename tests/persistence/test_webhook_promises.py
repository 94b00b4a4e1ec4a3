"""What the store promises of webhooks and their deliveries, on SQLite and on PostgreSQL."""

import threading
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event, func, select

from service.domain.timeline import Place
from service.domain.webhook import DeliveryState, Ended, HeardFrom, Secret, Webhook, WebhookState
from service.persistence.backup import backup
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.restoring import restore
from service.persistence.tables.webhooks import webhook_attempt, webhook_delivery, webhook_secret
from service.persistence.verifying import verify
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.ports import Asker, Entry
from service.use_cases.webhook_sending import Came
from service.use_cases.webhooks_port import Claimed, Message, Span, Told, Tried
from tests.conftest import SettableClock

OFFICE = Asker("key-1", "head office", "request-1")
MINUTE = timedelta(minutes=1)
NOBODY_S = "whsec_bWFkZSB1cCBmb3IgdGhlc2UgdGVzdHMgYWxvbmU="


def keep(ledger: SqlLedger, webhook_id: str = "wh-1", **facts: Any) -> Webhook:
    """Keep a webhook with a secret, as its entry says."""
    with ledger.write(OFFICE, moves_figures=False) as work:
        revision = work.head.revision + 1
        kept = Webhook(**{
            "id": webhook_id, "url": "https://hooks.example/x", "events": ("price.changed",), "description": "",
            "figures": False, "made_at": work.now, "revision": revision, "ended": None,
            "heard_from": HeardFrom(Place(revision, work.today), 0), **facts})
        work.next_mark(Entry("create_webhook", "webhook", webhook_id, {"id": webhook_id}))
        work.webhooks.keep(kept)
        work.webhooks.keep_secrets(webhook_id, (Secret(NOBODY_S, work.now),))
    return kept


def a_message(number: int, webhook_id: str = "wh-1") -> Message:
    return Message(f"msg-{webhook_id}-{number}", webhook_id, "ping", datetime(2026, 3, 2, 10, tzinfo=UTC),
                   {"revision": 1})


def send(ledger: SqlLedger, clock: SettableClock, count: int, webhook_id: str = "wh-1") -> None:
    for number in range(1, count + 1):
        ledger.webhooks.send_ping(a_message(number, webhook_id), clock())


def came(claimed: Claimed, state: DeliveryState, now: datetime, due_at: datetime | None = None,
         paused_until: datetime | None = None) -> Tried:
    how = Came.DELIVERED if state is DeliveryState.DELIVERED else Came.REFUSED
    return Tried(claimed, now, how, 204 if how is Came.DELIVERED else 500, state, due_at, paused_until)


def states(ledger: SqlLedger, webhook_id: str = "wh-1") -> list[str]:
    return [one.state.value for one in reversed(ledger.webhooks.deliveries(webhook_id, None, 1_000, None))]


def claim(ledger: SqlLedger, clock: SettableClock, limit: int = 100, webhook_id: str = "wh-1") -> list[Claimed]:
    return list(ledger.webhooks.claim(webhook_id, limit, clock(), clock() + MINUTE))


def test_a_webhook_comes_back_as_it_was_kept(ledger: SqlLedger) -> None:
    kept = keep(ledger, description="the office's", figures=True, events=("price.changed", "dish.outside_target"))
    assert ledger.webhooks.one("wh-1") == kept
    assert ledger.webhooks.every() == (kept,)
    assert ledger.head().figures_revision == 0
    keep(ledger, url="https://hooks.example/y")
    changed = ledger.webhooks.one("wh-1")
    assert changed is not None
    assert (changed.url, changed.revision, changed.made_at) == ("https://hooks.example/y", 2, kept.made_at)


def test_a_webhook_without_an_entry_that_says_so_is_not_kept(ledger: SqlLedger) -> None:
    with ledger.write(OFFICE, moves_figures=False) as work:
        work.webhooks.delete("wh-1")
    assert ledger.head().revision == 0


def test_what_is_claimed_is_nobody_else_s_until_the_lease_runs_out(ledger: SqlLedger, clock: SettableClock) -> None:
    keep(ledger)
    send(ledger, clock, 3)
    first, others = claim(ledger, clock, 1), claim(ledger, clock)
    assert [one.id for one in (*first, *others)] == ["msg-wh-1-1", "msg-wh-1-2", "msg-wh-1-3"]
    assert claim(ledger, clock) == []
    clock.move(seconds=61)
    again = claim(ledger, clock)
    assert [(one.id, one.claim, one.tries) for one in again] == [(f"msg-wh-1-{number}", 2, 0) for number in (1, 2, 3)]
    assert again[0].body == first[0].body
    assert again[0].secrets == (NOBODY_S,)


def test_of_many_who_claim_at_once_each_message_is_had_by_one(
    ledger: SqlLedger, clock: SettableClock, database_url: str
) -> None:
    keep(ledger)
    send(ledger, clock, 40)
    had: list[str] = []
    begin = threading.Barrier(4)

    def take() -> None:
        engines = open_engines(database_url)
        own = SqlLedger(engines, clock)
        begin.wait()
        while taken := claim(own, clock, 3):
            had.extend(one.id for one in taken)
        engines.dispose()

    threads = [threading.Thread(target=take) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    while left := claim(ledger, clock):
        had.extend(one.id for one in left)
    assert sorted(had) == sorted(f"msg-wh-1-{number}" for number in range(1, 41))


def test_the_numbers_of_a_webhook_have_no_gap_whoever_stores_at_once(
    ledger: SqlLedger, clock: SettableClock, database_url: str
) -> None:
    keep(ledger)
    keep(ledger, "wh-2")

    def store(half: int) -> None:
        engines = open_engines(database_url)
        own = SqlLedger(engines, clock)
        for number in range(half, half + 10):
            own.webhooks.send_ping(a_message(number), clock())
            own.webhooks.send_ping(a_message(number, "wh-2"), clock())
        engines.dispose()

    threads = [threading.Thread(target=store, args=(half,)) for half in (100, 200, 300)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for webhook_id in ("wh-1", "wh-2"):
        listed = ledger.webhooks.deliveries(webhook_id, None, 100, None)
        assert [one.sequence for one in listed] == list(range(30, 0, -1))


def test_a_try_is_logged_and_says_where_the_delivery_stands(ledger: SqlLedger, clock: SettableClock) -> None:
    keep(ledger)
    send(ledger, clock, 1)
    (claimed,) = claim(ledger, clock)
    failed = came(claimed, DeliveryState.WAITING, clock(), clock() + 5 * MINUTE)
    ledger.webhooks.record([failed])
    ledger.webhooks.record([failed])
    clock.move(minutes=5)
    (second,) = claim(ledger, clock)
    assert (second.tries, second.claim) == (1, 2)
    ledger.webhooks.record([came(second, DeliveryState.DELIVERED, clock())])
    told = ledger.webhooks.delivery("wh-1", claimed.id)
    assert told is not None
    assert (told.state, told.tries, told.due_at) == (DeliveryState.DELIVERED, 2, None)
    assert [(one.number, one.came, one.status) for one in told.attempts] == [
        (1, Came.REFUSED, 500), (2, Came.DELIVERED, 204)]
    assert ledger.webhooks.delivery("wh-2", claimed.id) is None


def test_a_late_word_of_one_whose_lease_ran_out_moves_nothing_unless_it_was_delivered(
    ledger: SqlLedger, clock: SettableClock
) -> None:
    keep(ledger)
    send(ledger, clock, 2)
    late, later = claim(ledger, clock)
    clock.move(seconds=61)
    claim(ledger, clock)
    ledger.webhooks.record([came(late, DeliveryState.DEAD, clock()), came(later, DeliveryState.DELIVERED, clock())])
    assert states(ledger) == ["waiting", "delivered"]
    told = ledger.webhooks.delivery("wh-1", late.id)
    assert told is not None
    assert len(told.attempts) == 1


def test_what_was_delivered_stays_so(ledger: SqlLedger, clock: SettableClock) -> None:
    keep(ledger)
    send(ledger, clock, 1)
    (one,) = claim(ledger, clock)
    ledger.webhooks.record([came(one, DeliveryState.DELIVERED, clock())])
    ledger.webhooks.record([came(replace(one, claim=2), DeliveryState.DEAD, clock())])
    assert states(ledger) == ["delivered"]


def test_a_receiver_that_is_spared_has_nothing_due(ledger: SqlLedger, clock: SettableClock) -> None:
    keep(ledger)
    send(ledger, clock, 2)
    assert (ledger.webhooks.due(clock()), ledger.webhooks.glance(clock()).due) == (["wh-1"], True)
    (one,) = claim(ledger, clock, 1)
    ledger.webhooks.record([came(one, DeliveryState.WAITING, clock(), clock() + MINUTE, clock() + 2 * MINUTE)])
    assert (ledger.webhooks.due(clock()), ledger.webhooks.glance(clock()).due) == ([], False)
    clock.move(minutes=2)
    assert ledger.webhooks.due(clock()) == ["wh-1"]


def test_when_a_webhook_ends_what_waits_for_it_is_cancelled_and_not_claimed(
    ledger: SqlLedger, clock: SettableClock, engines: Engines
) -> None:
    keep(ledger)
    send(ledger, clock, 2)
    keep(ledger, ended=Ended.GONE)
    assert states(ledger) == ["cancelled"] * 2
    assert claim(ledger, clock) == []
    assert not ledger.webhooks.glance(clock()).active
    with ledger.write(OFFICE, moves_figures=False) as work:
        work.next_mark(Entry("delete_webhook", "webhook", "wh-1", {"id": "wh-1"}))
        work.webhooks.delete("wh-1")
    assert ledger.webhooks.one("wh-1") is None
    with engines.read() as connection:
        assert connection.scalar(select(func.count()).select_from(webhook_secret)) == 0


def test_secrets_that_are_not_valid_any_more_sign_nothing(ledger: SqlLedger, clock: SettableClock) -> None:
    keep(ledger)
    old, new = Secret("old", clock(), clock() + MINUTE), Secret("new", clock())
    with ledger.write(OFFICE, moves_figures=False) as work:
        work.next_mark(Entry("rotate_webhook_secret", "webhook", "wh-1", {"id": "wh-1"}))
        work.webhooks.keep_secrets("wh-1", (old, new))
    send(ledger, clock, 1)
    assert claim(ledger, clock)[0].secrets == ("new", "old")
    clock.move(minutes=1)
    assert claim(ledger, clock)[0].secrets == ("new",)


@pytest.mark.parametrize(("span", "expected"), [
    (Span(), [3, 4]), (Span(undelivered_only=False), [1, 2, 3, 4]), (Span(last=3), [3]),
    (Span(first=2, last=3, undelivered_only=False), [2, 3]),
    (Span(since=datetime(2026, 3, 2, 10, 3, tzinfo=UTC)), [4])])
def test_a_span_is_replayed_from_the_first_try_on(
    ledger: SqlLedger, clock: SettableClock, span: Span, expected: list[int]
) -> None:
    keep(ledger)
    for number, state in enumerate((DeliveryState.DELIVERED, DeliveryState.DELIVERED, DeliveryState.DEAD,
                                    DeliveryState.DEAD), start=1):
        ledger.webhooks.send_ping(a_message(number), clock())
        ledger.webhooks.record([came(claim(ledger, clock)[0], state, clock())])
        clock.move(minutes=1)
    ledger.webhooks.send_ping(a_message(5), clock() + MINUTE)
    assert ledger.webhooks.replay_span("wh-1", span, clock()) == len(expected)
    again = claim(ledger, clock)
    assert [(one.id, one.tries) for one in again] == [(f"msg-wh-1-{number}", 0) for number in expected]


def test_what_is_old_and_waits_for_nothing_is_removed_with_its_log(
    ledger: SqlLedger, clock: SettableClock, engines: Engines
) -> None:
    keep(ledger)
    send(ledger, clock, 3)
    done, dead, waiting = claim(ledger, clock)
    ledger.webhooks.record([came(done, DeliveryState.DELIVERED, clock()), came(dead, DeliveryState.DEAD, clock()),
                            came(waiting, DeliveryState.WAITING, clock(), clock() + MINUTE)])
    assert ledger.webhooks.prune(clock(), 10) == 0
    assert ledger.webhooks.prune(clock() + MINUTE, 1) == 1
    assert ledger.webhooks.prune(clock() + MINUTE, 10) == 1
    assert [one.id for one in ledger.webhooks.deliveries("wh-1", None, 10, None)] == [waiting.id]
    with engines.read() as connection:
        assert connection.scalar(select(func.count()).select_from(webhook_attempt)) == 1
    ledger.webhooks.send_ping(a_message(4), clock())
    assert ledger.webhooks.deliveries("wh-1", None, 1, None)[0].sequence == 4, "numbers are not given again"


def test_deliverers_who_log_crosswise_do_not_wait_for_each_other_in_a_ring(
    ledger: SqlLedger, clock: SettableClock, database_url: str
) -> None:
    """Each logs tries for both webhooks, in the order of the messages' random ids, while the office looks after one."""
    keep(ledger)
    keep(ledger, "wh-2")
    for webhook, names in (("wh-1", "ad"), ("wh-2", "bc")):
        for name in names:
            ledger.webhooks.send_ping(replace(a_message(1, webhook), id=f"msg-{name}"), clock())
    had = {one.id[-1]: one for webhook in ("wh-1", "wh-2") for one in claim(ledger, clock, 4, webhook)}
    faults: list[Exception] = []

    def log(half: list[Claimed]) -> None:
        engines = open_engines(database_url)
        try:
            for _ in range(150):
                SqlLedger(engines, clock).webhooks.record(
                    [came(tried, DeliveryState.DELIVERED, clock()) for tried in half])
        except LedgerUnavailable as fault:
            faults.append(fault)
        engines.dispose()

    halves = ([had["a"], had["b"]], [had["c"], had["d"]])  # the first and then the second webhook, and crosswise
    threads = [threading.Thread(target=log, args=(half,)) for half in halves]
    for thread in threads:
        thread.start()
    for _ in range(10):
        keep(ledger, ended=Ended.SWITCHED_OFF)
        ledger.webhooks.replay_span("wh-2", Span(undelivered_only=False), clock())
    for thread in threads:
        thread.join()
    assert faults == []


def test_a_late_word_of_a_message_that_was_removed_is_nothing(ledger: SqlLedger, clock: SettableClock) -> None:
    """It was cancelled while it was on its way, and old: the deliverer must not stumble over it for ever."""
    keep(ledger)
    send(ledger, clock, 2)
    removed, other = claim(ledger, clock)
    keep(ledger, ended=Ended.SWITCHED_OFF)
    assert ledger.webhooks.prune(clock() + MINUTE, 1) == 1
    ledger.webhooks.record([came(one, DeliveryState.DELIVERED, clock()) for one in (removed, other)])
    assert states(ledger) == ["delivered"]


def test_a_webhook_that_somebody_looks_after_is_spared_no_longer(ledger: SqlLedger, clock: SettableClock) -> None:
    keep(ledger)
    send(ledger, clock, 2)
    (one,) = claim(ledger, clock, 1)
    day = timedelta(days=1)
    ledger.webhooks.record([came(one, DeliveryState.WAITING, clock(), clock() + day, clock() + day)])
    assert ledger.webhooks.due(clock()) == []
    keep(ledger, url="https://hooks.example/moved")
    assert ledger.webhooks.due(clock()) == ["wh-1"]


def test_what_is_due_first_is_claimed_without_reading_all_that_waits(sqlite_url: str, clock: SettableClock) -> None:
    """A price list can leave ten thousand messages, all due at one moment. PostgreSQL plans by what is there."""
    engines = open_engines(sqlite_url)
    ledger = SqlLedger(engines, clock)
    keep(ledger)
    send(ledger, clock, 5)
    asked: list[tuple[str, Any]] = []

    def note(_connection: Any, _cursor: Any, statement: str, parameters: Any, *_more: Any) -> None:
        asked.append((statement, parameters))

    event.listen(engines.writing, "before_cursor_execute", note)
    claim(ledger, clock, 2)
    (statement, parameters), = [each for each in asked if each[0].startswith("SELECT webhook_delivery")]
    with engines.write() as connection:
        plan = [row[3] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)]
    engines.dispose()
    assert any("ix_webhook_delivery_due" in step for step in plan)
    assert not any("TEMP B-TREE" in step for step in plan)


def test_the_cursor_moves_with_what_is_told_or_not_at_all(ledger: SqlLedger, clock: SettableClock) -> None:
    kept = keep(ledger)
    cursor = ledger.webhooks.cursor()
    told = Told((a_message(1),), Place(1, date(2026, 3, 2)), 4, 2, {"steak", "stew"}, (), {"wh-1": kept.revision})
    assert ledger.webhooks.tell(cursor, told, clock())
    moved = ledger.webhooks.cursor()
    assert (moved.version, moved.place, moved.part, moved.proposal, moved.outside) == (
        1, Place(1, date(2026, 3, 2)), 4, 2, {"steak", "stew"})
    with pytest.raises(Exception, match=r"(?i)unique"):
        ledger.webhooks.tell(moved, replace(told, part=5, came_back={"stew"}, left_target=()), clock())
    assert ledger.webhooks.cursor() == moved
    assert states(ledger) == ["waiting"]
    assert not ledger.webhooks.tell(cursor, replace(told, messages=(a_message(2),)), clock())
    stopped = Told((), None, 0, 0, webhooks={"wh-1": kept.revision})
    assert ledger.webhooks.tell(moved, stopped, clock())
    assert (ledger.webhooks.cursor().place, ledger.webhooks.cursor().outside) == (None, frozenset())


def test_after_a_restore_nothing_is_sent_again_and_a_webhook_waits_for_a_secret(
    ledger: SqlLedger, clock: SettableClock, engines: Engines, tmp_path: Path
) -> None:
    keep(ledger)
    send(ledger, clock, 2)
    backup(engines, tmp_path / "kept.jsonl")
    assert NOBODY_S not in (tmp_path / "kept.jsonl").read_text()
    migrate(f"sqlite:///{tmp_path / 'other.db'}")
    other = open_engines(f"sqlite:///{tmp_path / 'other.db'}")
    restore(other, tmp_path / "kept.jsonl")
    restored = SqlLedger(other, clock)
    webhook = restored.webhooks.one("wh-1")
    assert webhook is not None
    assert (webhook.state, webhook.why_not) == (WebhookState.DISABLED, Ended.RESTORED)
    assert (restored.webhooks.due(clock()), restored.webhooks.glance(clock()).active) == ([], False)
    assert verify(other) == []
    with other.read() as connection:
        assert connection.scalar(select(func.count()).select_from(webhook_delivery)) == 0
    keep(restored)
    assert restored.webhooks.glance(clock()).active
    other.dispose()


def test_a_late_failure_of_before_a_replay_says_nothing_of_it(ledger: SqlLedger, clock: SettableClock) -> None:
    """Otherwise what was just asked for again would be as dead as it was before."""
    keep(ledger)
    send(ledger, clock, 1)
    [late] = claim(ledger, clock)
    keep(ledger, ended=Ended.SWITCHED_OFF)
    keep(ledger)
    ledger.webhooks.replay("wh-1", "msg-wh-1-1", clock())
    ledger.webhooks.record([came(late, DeliveryState.DEAD, clock())])
    assert states(ledger) == ["waiting"]
    assert [one.tries for one in claim(ledger, clock)] == [0]
