"""What a worker keeps of what it computed: bounded, and never without what is polled."""

from datetime import date, timedelta

from service.persistence.ledger import SqlLedger
from service.use_cases.snapshots import KEPT, KEPT_WITH_ANSWERS, Position, Snapshot, Snapshots

TODAY = date(2026, 3, 2)


def at(ledger: SqlLedger, snapshots: Snapshots, day: date) -> Snapshot:
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


def test_the_last_few_alone_keep_what_was_made_of_them_and_the_others_make_it_again(ledger: SqlLedger) -> None:
    """A menu of 10 000 dishes has some 25 MB of rows a snapshot: those of forty of them would fill a worker."""
    snapshots, days = Snapshots(ledger), [TODAY + timedelta(days=days) for days in range(KEPT)]
    for day in days:
        at(ledger, snapshots, day).kept("rows", lambda: ["first"])
    found = {day: at(ledger, snapshots, day).kept("rows", lambda: ["anew"]) for day in days}
    assert [day for day in days if found[day] == ["first"]] == [TODAY, *days[-KEPT_WITH_ANSWERS:]]
    assert at(ledger, snapshots, days[3]).kept("rows", lambda: ["never"]) == ["anew"]
