"""Margin alerts of a kitchen that moves: each crossing once, whoever looks and whenever, with no write at midnight too.

The clock stands on 2 March 2026. A grilled steak takes 200 g at 14 a kilogram: 2.80, of 12 before tax; its target of
30 % is at 3.60, so that it is crossed at 18 a kilogram.
"""

import random
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import count, pairwise
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import delete, select, update

from service.domain.errors import NotFound, WrongValue
from service.domain.history import Mark
from service.domain.price import Price
from service.domain.supplier import Supplier
from service.domain.timeline import Place
from service.persistence.backup import backup
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.restoring import restore
from service.persistence.tables.margin_alerts import margin_alert, margin_alert_cursor
from service.persistence.verifying import verify
from service.use_cases.acknowledge_margin_alert import acknowledge_margin_alert
from service.use_cases.cost_rows import dish_rows
from service.use_cases.margin_alerts_port import AlertsAsked, Raised
from service.use_cases.ports import Asker
from service.use_cases.position import Position
from service.use_cases.read_changes import read_changes
from service.use_cases.read_margin_alerts import open_margin_alerts
from service.use_cases.snapshots import Snapshots
from service.use_cases.told_changes import FIGURES
from tests.builders import a_dish, a_line, an_ingredient, some_settings
from tests.conftest import SettableClock
from tests.persistence.writing import record, take_back
from tests.use_cases.margins_watched import Worker, as_raised, replayed, stored

TODAY = date(2026, 3, 2)
CHEF = Asker("key-1", "the chef", "request-1")
STEAK = a_dish("steak", a_line("ingredient beef", "0.2"), menu_price="12", tax_rate_percent="0",
               target_food_cost_percent="30", section="Grill")
OUT, BACK, LEFT = ("steak", "outside"), ("steak", "back_within"), ("steak", "left_menu")


def a_price_of(amount: object, start: date = TODAY, end: date | None = None) -> Price:
    return Price("beef", "fenmoor", Decimal(str(amount)), Decimal(1), "kg", start, end, "", Mark(0, 0))


@pytest.fixture
def kitchen(ledger: SqlLedger) -> SqlLedger:
    record(ledger, some_settings(), Supplier("fenmoor", "Fenmoor"), an_ingredient("beef", name="Beef"), a_price_of(14),
           STEAK)
    return ledger


@pytest.fixture
def worker(kitchen: SqlLedger) -> Worker:
    return Worker(kitchen)


def rows(ledger: SqlLedger) -> dict[str, Any]:
    """The figures of the menu as a worker that knows nothing reads them."""
    head = ledger.head()
    snapshot = Snapshots(ledger).at(Position(head.figures_revision, head.figures_hash, ledger.today()))
    return {row["dish"]: {name: row[name] for name in FIGURES} for row in dish_rows(snapshot)}


def acknowledge(worker: Worker, alert: str, note: str) -> Any:
    head = worker.ledger.head()
    return acknowledge_margin_alert(worker.ledger, worker.watch, head, worker.ledger.today_at(head), alert, note,
                                    CHEF).document


def open_ones(worker: Worker) -> Any:
    head = worker.ledger.head()
    return open_margin_alerts(worker.ledger, worker.watch, head, worker.ledger.today_at(head))


def test_each_crossing_is_raised_once_with_the_figures_before_and_after(kitchen: SqlLedger, worker: Worker) -> None:
    before = rows(kitchen)["steak"]
    revision = record(kitchen, a_price_of(19))
    [alert] = worker.listed()
    assert (alert["crossed"], alert["open"], alert["revision"], alert["as_of"], alert["moved_by"]) == (
        "outside", True, revision, "2026-03-02", "revision")
    assert (alert["before"], alert["after"]) == (before, rows(kitchen)["steak"])
    assert (alert["who"], alert["at"]) == ("the chef", "2026-03-02T10:00:00Z")
    assert [(one["kind"], one["code"], one["revision"]) for one in alert["causes"]] == [("price", "beef", revision)]
    assert alert["because"] == "A price of Beef was recorded."
    assert worker.listed() == [alert]


def test_nothing_repeats_while_nothing_crosses(kitchen: SqlLedger, worker: Worker) -> None:
    told = []
    for amount in ("18", "18.01", "19", "20", "18", "17", "18.01"):
        record(kitchen, a_price_of(amount))
        told.append(len(worker.told()))
    assert told == [0, 1, 1, 1, 2, 2, 3]
    assert worker.told() == [OUT, BACK, OUT]
    last, back, first = worker.listed()
    assert (first["closed_by"]["id"], back["closes"]["id"]) == (back["id"], first["id"])
    assert [one["open"] for one in (first, back, last)] == [False, False, True]


def test_a_figure_that_is_not_known_in_between_raises_nothing(kitchen: SqlLedger, worker: Worker) -> None:
    record(kitchen, a_price_of(19))
    record(kitchen, Supplier("harrow", "Harrow"), an_ingredient("beef", preferred_supplier="harrow"))
    assert rows(kitchen)["steak"]["within_target"] is None
    assert worker.told() == [OUT]
    record(kitchen, an_ingredient("beef"))
    assert worker.told() == [OUT]


def test_a_dish_that_leaves_the_menu_outside_its_target_closes_its_alert(kitchen: SqlLedger, worker: Worker) -> None:
    record(kitchen, a_price_of(19))
    record(kitchen, STEAK, retired=True)
    record(kitchen, STEAK)
    record(kitchen, a_price_of(10))
    record(kitchen, STEAK, retired=True)
    assert worker.told() == [OUT, LEFT, OUT, BACK]
    assert worker.listed()[2]["after"] is None


def test_a_dish_that_comes_onto_the_menu_outside_its_target_is_an_alert(kitchen: SqlLedger, worker: Worker) -> None:
    record(kitchen, replace(STEAK, code="cheap", menu_price=Decimal(6)))
    [alert] = worker.listed()
    assert (alert["dish"], alert["crossed"], alert["before"]) == ("cheap", "outside", None)


def test_what_begins_at_midnight_is_raised_with_no_write_of_the_ledger(
    kitchen: SqlLedger, worker: Worker, clock: SettableClock
) -> None:
    tomorrow = TODAY + timedelta(days=1)
    revision = record(kitchen, a_price_of(19, tomorrow, tomorrow))
    assert worker.listed() == []
    head = kitchen.head()
    clock.move(days=5)
    back, out = worker.listed()
    assert [(one["as_of"], one["moved_by"], one["at"], one["who"], one["because"]) for one in (out, back)] == [
        ("2026-03-03", "date", "2026-03-03T00:00:00Z", None, "A price of Beef came into force."),
        ("2026-03-04", "date", "2026-03-04T00:00:00Z", None, "A price of Beef ended.")]
    assert out["revision"] == back["revision"] == revision
    assert kitchen.head() == head


def test_a_walk_is_bounded_and_goes_on_where_it_ended(kitchen: SqlLedger) -> None:
    worker = Worker(kitchen, clock=count().__next__)
    for amount in (19, 10, 19):
        record(kitchen, a_price_of(amount))
    looks = [worker.look() for _ in range(4)]
    assert [look.up_to_date for look in looks] == [False, False, False, True]
    assert [look.place.revision for look in looks] == [1, 2, 3, 4]
    assert worker.told() == [OUT, BACK, OUT]


def test_filters_narrow_alone_and_together_and_pages_join_without_a_seam(
    kitchen: SqlLedger, worker: Worker, clock: SettableClock
) -> None:
    for number in range(3):
        record(kitchen, a_price_of(19, kitchen.today()), replace(STEAK, code=f"pie-{number}", section="Pies"))
        clock.move(days=1)
        record(kitchen, a_price_of(10, TODAY + timedelta(days=number + 1)))
    record(kitchen, a_price_of(19, kitchen.today()))
    everything = worker.listed()
    assert len(everything) == 2 * (2 + 3 + 4) + 4
    acknowledge(worker, everything[3]["id"], "seen")
    everything = worker.listed()
    asked = {
        AlertsAsked(open=True): lambda row: row["open"], AlertsAsked(open=False): lambda row: not row["open"],
        AlertsAsked(dish="pie-1"): lambda row: row["dish"] == "pie-1",
        AlertsAsked(section="Pies"): lambda row: row["section"] == "Pies",
        AlertsAsked(acknowledged=True): lambda row: row["acknowledgement"] is not None,
        AlertsAsked(acknowledged=False, open=True): lambda row: row["open"] and row["acknowledgement"] is None,
        AlertsAsked(start=date(2026, 3, 3), end=date(2026, 3, 4)):
            lambda row: row["as_of"] in ("2026-03-03", "2026-03-04")}
    for which, holds in asked.items():
        expected = [row for row in everything if holds(row)]
        assert 0 < len(expected) < len(everything)
        for limit in (2, 100):
            assert worker.listed(which, limit) == expected, (which, limit)
    with pytest.raises(WrongValue, match="is before"):
        worker.listed(AlertsAsked(start=date(2026, 3, 3), end=date(2026, 3, 2)))


def test_an_acknowledgement_is_an_entry_that_moves_no_figure_and_the_same_note_again_is_none(
    kitchen: SqlLedger, worker: Worker
) -> None:
    record(kitchen, a_price_of(19))
    [alert] = worker.listed()
    before = kitchen.head()
    told = acknowledge(worker, alert["id"], "New menu on Thursday")
    assert told["acknowledgement"] == {"note": "New menu on Thursday", "who": "the chef", "at": "2026-03-02T10:00:00Z",
                                       "revision": before.revision + 1}
    head = kitchen.head()
    assert (head.revision, head.figures_revision) == (before.revision + 1, before.figures_revision)
    assert acknowledge(worker, alert["id"], "New menu on Thursday") == told
    assert kitchen.head() == head
    assert acknowledge(worker, alert["id"], "Done")["acknowledgement"]["note"] == "Done"
    assert [row["acknowledgement"]["note"] for row in worker.listed()] == ["Done"]
    entries = read_changes(kitchen, Mark(before.revision, 99), 10, kitchen.head().revision).data
    assert [(one["kind"], one["action"], one["code"], one["record"]["note"], one["who"]) for one in entries] == [
        ("margin_alert", "acknowledge", alert["id"], note, "the chef") for note in ("New menu on Thursday", "Done")]
    with pytest.raises(NotFound, match="no margin alert"):
        acknowledge(worker, "alert-0", "seen")


def test_what_needs_attention_is_the_open_alert_of_each_dish(kitchen: SqlLedger, worker: Worker) -> None:
    record(kitchen, replace(STEAK, code="onglet"), replace(STEAK, code="dear", menu_price=Decimal(40)))
    record(kitchen, a_price_of(19))
    record(kitchen, replace(STEAK, menu_price=Decimal(20)))
    acknowledge(worker, next(row["id"] for row in worker.listed() if row["dish"] == "onglet"), "seen")
    found = open_ones(worker)
    assert list(found) == ["onglet"]
    assert found["onglet"] == next(row for row in worker.listed(AlertsAsked(open=True)))
    assert found["onglet"]["acknowledgement"]["note"] == "seen"


def test_while_nothing_can_be_stored_alerts_are_known_from_memory_and_stored_later(
    kitchen: SqlLedger, engines: Engines, clock: SettableClock
) -> None:
    """Another writer holds the ledger's lock for as long as it lasts: what is derived does not wait for it."""
    watching, other = Worker(kitchen), Worker(kitchen)
    record(kitchen, a_price_of(19))
    assert watching.told() == [OUT]
    stored_so_far = as_raised(stored(kitchen))
    record(kitchen, a_price_of(10))
    record(kitchen, a_price_of(19, TODAY + timedelta(days=1)))
    clock.move(days=1)
    with engines.write() as connection:
        if not engines.is_sqlite:  # there a write locks the whole file
            connection.exec_driver_sql("LOCK TABLE margin_alert_cursor IN EXCLUSIVE MODE")
        for worker in (watching, other):
            assert worker.told() == [OUT, BACK, OUT]
            assert worker.told(AlertsAsked(open=True)) == [OUT]
            assert worker.told(AlertsAsked(open=False)) == [OUT, BACK]
            assert [one["as_of"] for one in open_ones(worker).values()] == ["2026-03-03"]
        assert as_raised(stored(kitchen)) == stored_so_far
    assert watching.told() == other.told() == [OUT, BACK, OUT]
    assert as_raised(stored(kitchen)) == as_raised(replayed(kitchen))


def test_of_several_who_look_at_once_one_stores(kitchen: SqlLedger) -> None:
    workers = [Worker(kitchen) for _ in range(4)]
    for amount in (19, 10, 19, 10, 19):
        record(kitchen, a_price_of(amount), replace(STEAK, code="onglet"))
        with ThreadPoolExecutor(8) as threads:
            looks = [threads.submit(worker.told) for worker in workers * 2]
        assert len({tuple(look.result()) for look in looks}) == 1
    assert as_raised(stored(kitchen)) == as_raised(replayed(kitchen))
    assert len(stored(kitchen)) == 10


def test_a_walk_that_was_overtaken_is_not_stored(kitchen: SqlLedger, worker: Worker) -> None:
    """The day after began for whoever walked; a write of the day before was still under way, and came first."""
    worker.look()
    record(kitchen, a_price_of(19))
    cursor, head = kitchen.margin_alerts.cursor(), kitchen.head()
    early = Raised([], Place(head.figures_revision, TODAY + timedelta(days=1)), head.figures_revision)
    record(kitchen, a_price_of(10))
    assert not kitchen.margin_alerts.store(cursor, early)
    assert kitchen.margin_alerts.cursor() == cursor
    worker.look()
    assert not kitchen.margin_alerts.store(cursor, replace(early, head=None)), "another was faster"
    assert as_raised(stored(kitchen)) == as_raised(replayed(kitchen))


def test_alerts_are_raised_in_passing_and_then_nothing_is_asked_until_something_moves(
    kitchen: SqlLedger, clock: SettableClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    passing = Worker(kitchen).watch
    looks: list[int] = []
    cursor = kitchen.margin_alerts.cursor
    monkeypatch.setattr(kitchen.margin_alerts, "cursor", lambda: (looks.append(1), cursor())[1])
    for amount, raised in ((19, 1), (20, 1), (10, 2)):
        record(kitchen, a_price_of(amount))
        passing.look_in_passing(0)
        assert len(stored(kitchen)) == raised
        before = len(looks)
        passing.look_in_passing(0)
        assert len(looks) == before
    record(kitchen, a_price_of(19, TODAY + timedelta(days=1)))
    passing.look_in_passing(0)
    clock.move(days=1)
    passing.look_in_passing(0)
    assert len(stored(kitchen)) == 3


def test_a_restored_backup_has_the_alerts_and_who_took_note_and_would_raise_the_same_anew(
    kitchen: SqlLedger, engines: Engines, clock: SettableClock, worker: Worker, sqlite_template: Path, tmp_path: Path
) -> None:
    for amount in (19, 10, 19):
        record(kitchen, a_price_of(amount))
    acknowledge(worker, worker.listed()[2]["id"], "seen")
    before = worker.listed()
    backup(engines, tmp_path / "ledger.jsonl")
    (tmp_path / "other.db").write_bytes(sqlite_template.read_bytes())
    other = open_engines(f"sqlite:///{tmp_path / 'other.db'}")
    try:
        restore(other, tmp_path / "ledger.jsonl")
        restored = SqlLedger(other, clock)
        assert as_raised(stored(restored)) == as_raised(stored(kitchen))
        assert Worker(restored).listed() == before
        with other.write() as connection:
            for table in (margin_alert_cursor, margin_alert):
                connection.execute(delete(table))
        assert Worker(restored).listed() == before
        record(restored, a_price_of(10))
        assert Worker(restored).told() == [OUT, BACK, OUT, BACK]
    finally:
        other.dispose()


def test_alerts_go_away_with_their_migration_and_come_back_the_same(
    kitchen: SqlLedger, engines: Engines, worker: Worker, database_url: str
) -> None:
    """Who took note is told by the ledger's entries, which no migration touches."""
    for amount in (19, 10, 19):
        record(kitchen, a_price_of(amount))
    acknowledge(worker, worker.listed()[0]["id"], "seen")
    before, head = as_raised(stored(kitchen)), kitchen.head()
    migrate(database_url, "0011")
    migrate(database_url)
    anew = Worker(kitchen)
    assert anew.told() == [OUT, BACK, OUT]
    assert (as_raised(stored(kitchen)), kitchen.head(), verify(engines)) == (before, head, [])
    acknowledge(anew, anew.listed()[0]["id"], "seen again")
    assert [row["acknowledgement"] and row["acknowledgement"]["note"] for row in anew.listed()] == [
        "seen again", None, None]


def test_an_alert_of_a_release_that_told_fewer_figures_is_shown_without_them(
    kitchen: SqlLedger, engines: Engines, worker: Worker
) -> None:
    """What is stored stays as it was told; a figure that releases after it tell is not known of it."""
    record(kitchen, a_price_of(19))
    [before] = worker.listed()
    with engines.write() as connection:
        told = connection.scalar(select(margin_alert.c.told))
        del told["after"]["gross_profit"]
        connection.execute(update(margin_alert).values(told=told))
    [alert] = Worker(kitchen).listed()
    assert alert == before | {"after": before["after"] | {"gross_profit": None}}


@pytest.mark.parametrize("seed", range(2))
def test_alerts_replayed_from_the_ledger_equal_those_raised_live(
    kitchen: SqlLedger, clock: SettableClock, seed: int
) -> None:
    """Also held against a watcher that reads the whole menu after every write and every midnight, and knows no step."""
    chance = random.Random(seed)
    workers = [Worker(kitchen), Worker(kitchen)]
    outside: set[str] = set()
    expected: list[tuple[str, str]] = []
    seen: list[tuple[str, str]] = []

    for _ in range(15):
        clock.move(hours=chance.choice((0, 1, 12)))
        watch(kitchen, outside, expected)
        a_random_write(kitchen, chance)
        watch(kitchen, outside, expected)
        if chance.random() < 0.3:
            workers[chance.randrange(2)] = Worker(kitchen)
        if chance.random() < 0.6:
            now = chance.choice(workers).told()
            assert now[:len(seen)] == seen, "what was raised stays"
            assert now == expected
            seen = now
    final = workers[0].listed()
    assert workers[1].listed() == final == Worker(kitchen).listed()
    assert [(row["dish"], row["crossed"]) for row in reversed(final)] == expected
    assert len(expected) >= 4
    assert as_raised(stored(kitchen)) == as_raised(replayed(kitchen))
    assert all(one.number < two.number and one.place <= two.place for one, two in pairwise(stored(kitchen)))


def watch(ledger: SqlLedger, outside: set[str], expected: list[tuple[str, str]]) -> None:
    """Note what has crossed since the last look, by the menu alone."""
    now = rows(ledger)
    for dish in sorted(outside | now.keys()):
        within = now[dish]["within_target"] if dish in now else None
        if dish in outside and (within or dish not in now):
            outside.remove(dish)
            expected.append((dish, "back_within" if within else "left_menu"))
        elif dish not in outside and within is False:
            outside.add(dish)
            expected.append((dish, "outside"))


def a_random_write(ledger: SqlLedger, chance: random.Random) -> None:
    today = ledger.today()
    dish = replace(STEAK, code=chance.choice(("steak", "minute-steak")), menu_price=Decimal(chance.randint(8, 14)))
    what = chance.random()
    if what < 0.6:
        start = today + timedelta(days=chance.choice((0, 0, 1, 2)))
        end = start + timedelta(days=1) if chance.random() < 0.3 else None
        record(ledger, a_price_of(chance.randint(10, 24), start, end))
    elif what < 0.8:
        record(ledger, dish)
    elif what < 0.9 and dish.code in rows(ledger):
        record(ledger, dish, start=today, retired=True)
    else:
        price = chance.choice([one for one in ledger.kitchen(ledger.head().revision).prices["beef"]
                               if one.withdrawn is None][-2:])
        with ledger.write(CHEF) as work:
            take_back(work, price)
