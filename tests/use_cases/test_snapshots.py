"""What a worker keeps of what it computed: bounded, and never without what is polled."""

from datetime import date, timedelta

from service.persistence.ledger import SqlLedger
from service.use_cases.snapshots import KEPT, Position, Snapshots

TODAY = date(2026, 3, 2)


def at(ledger: SqlLedger, snapshots: Snapshots, day: date) -> object:
    head = ledger.head()
    return snapshots.at(Position(head.figures_revision, head.figures_hash, day))


def test_asking_for_many_other_days_never_evicts_today(ledger: SqlLedger) -> None:
    snapshots = Snapshots(ledger)
    assert ledger.today() == TODAY
    todays = at(ledger, snapshots, TODAY)
    for days in range(1, KEPT + 5):
        at(ledger, snapshots, TODAY + timedelta(days=days))
    assert at(ledger, snapshots, TODAY) is todays


def test_other_days_are_let_go_when_there_are_too_many(ledger: SqlLedger) -> None:
    snapshots = Snapshots(ledger)
    at(ledger, snapshots, TODAY)
    first = at(ledger, snapshots, TODAY + timedelta(days=1))
    for days in range(2, KEPT + 5):
        at(ledger, snapshots, TODAY + timedelta(days=days))
    assert at(ledger, snapshots, TODAY + timedelta(days=1)) is not first
