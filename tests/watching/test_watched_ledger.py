"""What is read of a ledger to watch it, on both engines; what a deliverer that is gone looks like."""

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import pytest
from prometheus_client import CollectorRegistry

from service.domain.webhook import DeliveryState
from service.integrations.webhooks.deliverer import Deliverer
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.watched_ledger import SqlWatchedLedger, watched_ledger
from service.use_cases.figure_timeline import FigureTimeline
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.snapshots import Snapshots
from service.use_cases.tell_webhooks import Telling
from service.use_cases.webhook_sending import Came, Outcome
from service.use_cases.webhooks_port import Claimed, Tried
from service.watching.figures import Figures
from service.watching.ledger_figures import HEARTBEAT_STALE, LATE, LOW_DISK_BYTES, Outbox, Storage, concerns
from tests.conftest import SettableClock
from tests.persistence.test_webhook_promises import MINUTE, keep, send


def a_deliverer(ledger: SqlLedger, clock: SettableClock) -> Deliverer:
    timeline = FigureTimeline(ledger, snapshots := Snapshots(ledger))
    return Deliverer(ledger, Telling(ledger, timeline, snapshots), lambda *_: Outcome(Came.REFUSED, 500), clock)


def tried(claimed: Sequence[Claimed], clock: SettableClock, came: Came, state: DeliveryState) -> list[Tried]:
    due = clock() + MINUTE if state is DeliveryState.WAITING else None
    return [Tried(one, clock(), came, None, state, due) for one in claimed]


def test_an_outbox_without_webhooks_owes_nothing(engines: Engines, ledger: SqlLedger, clock: SettableClock) -> None:
    watched = SqlWatchedLedger(engines)
    assert watched.outbox(clock()) == Outbox()
    a_deliverer(ledger, clock).turn()
    assert watched.outbox(clock()).heartbeat is None
    assert all(concerns(Outbox(), None, clock()).values())


def test_a_deliverer_that_is_gone_is_missed(engines: Engines, ledger: SqlLedger, clock: SettableClock) -> None:
    watched = SqlWatchedLedger(engines)
    keep(ledger)
    assert not concerns(watched.outbox(clock()), None, clock())["deliverer"]
    a_deliverer(ledger, clock).turn()
    assert watched.outbox(clock()) == Outbox(1, clock())
    assert concerns(watched.outbox(clock()), None, clock())["deliverer"]
    clock.move(seconds=HEARTBEAT_STALE.total_seconds())
    assert concerns(watched.outbox(clock()), None, clock())["deliverer"]
    clock.move(seconds=1)
    assert not concerns(watched.outbox(clock()), None, clock())["deliverer"]
    assert watched.figures(clock()).outbox == watched.outbox(clock())


def test_what_is_due_for_long_is_late_unless_its_receiver_is_spared(
    engines: Engines, ledger: SqlLedger, clock: SettableClock
) -> None:
    watched = SqlWatchedLedger(engines)
    keep(ledger)
    send(ledger, clock, 2)
    made = clock()
    clock.move(seconds=LATE.total_seconds() + 1)
    assert watched.outbox(clock()).oldest_due == made
    assert not concerns(watched.outbox(clock()), None, clock())["outbox"]
    [first] = ledger.webhooks.claim("wh-1", 1, clock(), clock() + MINUTE)
    ledger.webhooks.record([Tried(first, clock(), Came.REFUSED, 500, DeliveryState.WAITING, clock() + MINUTE,
                                  paused_until=clock() + MINUTE)])
    assert watched.outbox(clock()).oldest_due is None


def test_tries_are_counted_once_and_for_good(engines: Engines, ledger: SqlLedger, clock: SettableClock) -> None:
    watched = SqlWatchedLedger(engines)
    keep(ledger)
    send(ledger, clock, 5)
    claimed = ledger.webhooks.claim("wh-1", 5, clock(), clock() + MINUTE)
    delivered = tried(claimed[:3], clock, Came.DELIVERED, DeliveryState.DELIVERED)
    ledger.webhooks.record(delivered)
    ledger.webhooks.record(delivered)  # as after an answer that was lost
    ledger.webhooks.record(tried(claimed[3:4], clock, Came.TIMED_OUT, DeliveryState.DEAD))
    figures = watched.figures(clock())
    assert figures.outcomes == {"delivered": 3, "timed_out": 1}
    assert (figures.waiting, figures.dead, figures.revision) == (1, 1, 1)
    clock.move(days=40)
    assert ledger.webhooks.prune(clock() - timedelta(days=35), 100) == 4
    assert watched.figures(clock()).outcomes == {"delivered": 3, "timed_out": 1}
    assert watched.figures(clock()).dead == 0


def test_a_disk_that_fills_is_told_and_costs_nobody_a_read(clock: SettableClock) -> None:
    well = concerns(Outbox(), Storage(LOW_DISK_BYTES, 0, True), clock())
    full = concerns(Outbox(), Storage(LOW_DISK_BYTES - 1, 0, False), clock())
    assert (well["disk"], well["disk_writable"], full["disk"], full["disk_writable"]) == (True, True, False, False)


def test_storage_is_told_of_a_file_alone(engines: Engines, ledger: SqlLedger) -> None:
    ledger.head()
    storage = SqlWatchedLedger(engines).storage()
    assert (storage is not None) == engines.is_sqlite
    if storage is not None:
        assert storage.free > 0
        assert storage.writable


def test_pools_tell_who_has_a_connection_and_how_long_it_took(engines: Engines) -> None:
    registry = CollectorRegistry()
    watched_ledger(engines, Figures(registry))

    def value(name: str) -> float | None:
        return registry.get_sample_value(f"seamcost_database_pool_{name}")

    with engines.read(), engines.read():
        assert value("connections_in_use") == 2
    with engines.write():
        assert value("connections_in_use") == 1
    assert (value("connections_in_use"), value("wait_duration_seconds_count")) == (0, 3)
    assert value("connections_open") == 3


def test_a_ledger_that_is_gone_is_unavailable(tmp_path: Path, clock: SettableClock) -> None:
    watched = SqlWatchedLedger(open_engines(f"sqlite:///{tmp_path}/nothing.db"))
    with pytest.raises(LedgerUnavailable):
        watched.figures(clock())
    assert SqlWatchedLedger(open_engines("sqlite:////no/such/folder/x.db")).storage() is None
