"""What a worker keeps of what it computed: bounded, and never without what is polled."""

import gc
import threading
import time
import weakref
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path

import pytest

from service.domain.supplier import Supplier
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import KEPT, KEPT_WITH_ANSWERS, Snapshots
from tests.builders import a_dish, a_price, an_ingredient
from tests.persistence.writing import record

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


def newest(ledger: SqlLedger, or_later: bool = True) -> Position:
    """What a request asks for that has just read the head; with a revision named, if no later one will do."""
    head = ledger.head()
    return Position(head.figures_revision, head.figures_hash, TODAY, or_later)


def counting(ledger: SqlLedger) -> tuple[Snapshots, list[Snapshot]]:
    """The snapshots of a worker, and those that it has built."""
    built: list[Snapshot] = []

    def building(build: Callable[[], Snapshot]) -> Snapshot:
        built.append(build())
        return built[-1]

    return Snapshots(ledger, building), built


def test_who_is_overtaken_by_writes_is_served_what_others_built_meanwhile(ledger: SqlLedger) -> None:
    """To build what has been passed would keep all others waiting for it, and each of them would be overtaken too."""
    snapshots, built = counting(ledger)
    record(ledger, an_ingredient())
    asked = newest(ledger)
    record(ledger, an_ingredient("leek"))
    later = snapshots.at(newest(ledger))
    assert snapshots.at(asked) is later
    assert built == [later]
    assert later.position.revision > asked.revision


def test_who_is_overtaken_before_anybody_has_built_builds_what_is_newest(ledger: SqlLedger) -> None:
    snapshots, built = counting(ledger)
    record(ledger, an_ingredient())
    asked = newest(ledger)
    record(ledger, an_ingredient("leek"))
    assert snapshots.at(asked).position == newest(ledger)
    assert snapshots.at(newest(ledger)) is built[0]
    assert len(built) == 1


def test_who_names_a_revision_has_that_one_whatever_was_written_and_built_meanwhile(ledger: SqlLedger) -> None:
    snapshots, _ = counting(ledger)
    record(ledger, an_ingredient())
    asked = newest(ledger, or_later=False)
    record(ledger, an_ingredient("leek"))
    snapshots.at(newest(ledger))
    found = snapshots.at(asked)
    assert found.position == asked
    assert "leek" not in found.kitchen.ingredients


def test_who_asks_for_the_newest_does_not_wait_for_a_revision_that_another_named(ledger: SqlLedger) -> None:
    """A price list is answered with its effect at the revision that it was looked at: tills go on meanwhile."""
    named, begun, go_on = newest(ledger, or_later=False), threading.Event(), threading.Event()

    def building(build: Callable[[], Snapshot]) -> Snapshot:
        built = build()
        if built.position == named:
            begun.set()
            assert go_on.wait(20)
        return built

    snapshots = Snapshots(ledger, building)
    record(ledger, an_ingredient())
    with ThreadPoolExecutor() as pool:
        waiting = pool.submit(snapshots.at, named)
        assert begun.wait(20)
        try:
            assert "shallot" in pool.submit(snapshots.at, newest(ledger)).result(10).kitchen.ingredients
            assert not waiting.done()
        finally:
            go_on.set()
        assert waiting.result(20).position == named


def test_one_alone_builds_what_is_newest_also_when_others_wait_and_more_come(ledger: SqlLedger) -> None:
    """A second waits while the first builds; a third comes while the second builds, and is not to build beside it."""
    begun: dict[str, threading.Event] = {who: threading.Event() for who in "abc"}
    go_on: dict[str, threading.Event] = {who: threading.Event() for who in "abc"}
    names = iter("abc")

    def building(build: Callable[[], Snapshot]) -> Snapshot:
        who = next(names)
        begun[who].set()
        assert go_on[who].wait(20)
        return build()

    snapshots = Snapshots(ledger, building)
    with ThreadPoolExecutor() as pool:
        try:
            record(ledger, an_ingredient())
            found = [pool.submit(snapshots.at, newest(ledger))]
            assert begun["a"].wait(20)
            record(ledger, an_ingredient("leek"))
            found.append(pool.submit(snapshots.at, newest(ledger)))
            assert not begun["b"].wait(0.3)
            go_on["a"].set()
            assert begun["b"].wait(20)
            record(ledger, an_ingredient("carrot"))
            found.append(pool.submit(snapshots.at, newest(ledger)))
            assert not begun["c"].wait(0.3)
        finally:
            for event in go_on.values():
                event.set()
        assert [one.result(20).position.revision for one in found] == [1, 2, 3]


def test_days_that_were_asked_for_leave_no_turn_behind(ledger: SqlLedger) -> None:
    snapshots = Snapshots(ledger)
    for days in range(KEPT + 20):
        at(ledger, snapshots, TODAY + timedelta(days=days))
    snapshots.at(newest(ledger, or_later=False))
    assert len(snapshots._turns) == 0


def test_what_cannot_be_made_leaves_nothing_behind(ledger: SqlLedger) -> None:
    def none() -> object:
        raise LookupError

    snapshot = at(ledger, Snapshots(ledger), TODAY)
    for number in range(3):
        with pytest.raises(LookupError):
            snapshot.kept(f"dish {number}", none)
    gc.collect()
    assert len(snapshot._making) == 0
    assert snapshot.kept("dish 1", lambda: "there now") == "there now"


def test_what_cannot_be_made_is_tried_by_one_at_a_time(ledger: SqlLedger) -> None:
    """Also where some wait while one fails, and others come after it."""
    snapshot, at_work, most = at(ledger, Snapshots(ledger), TODAY), [0], [0]

    def none() -> object:
        at_work[0] += 1
        most[0] = max(most[0], at_work[0])
        time.sleep(0.005)
        at_work[0] -= 1
        raise LookupError

    def ask(_: int) -> None:
        with pytest.raises(LookupError):
            snapshot.kept("dish", none)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(ask, range(40)))
    assert most == [1]


def test_what_is_newest_is_found_from_the_newest_and_not_from_an_earlier_one_that_was_built_since(ledger: SqlLedger
                                                                                              ) -> None:
    snapshots = Snapshots(ledger)
    record(ledger, Supplier("fenmoor", "Fenmoor Yard"), an_ingredient(), a_price("9", ingredient="shallot"))
    named = newest(ledger, or_later=False)
    record(ledger, a_price("10", ingredient="shallot"))
    newer = snapshots.at(newest(ledger))
    earlier = snapshots.at(named)
    record(ledger, a_price("11", ingredient="shallot"))
    newest_one = snapshots.at(newest(ledger))
    assert newest_one.stands_on(newer)
    assert not newest_one.stands_on(earlier)


def test_a_later_one_is_of_the_same_day(ledger: SqlLedger) -> None:
    snapshots, _ = counting(ledger)
    record(ledger, an_ingredient())
    asked = newest(ledger)
    record(ledger, an_ingredient("leek"))
    at(ledger, snapshots, TODAY + timedelta(days=1))
    assert snapshots.at(asked).position == newest(ledger)


def test_a_later_one_is_of_this_ledger_and_not_of_the_one_before_it_was_restored(
        ledger: SqlLedger, tmp_path: Path) -> None:
    snapshots, _ = counting(ledger)
    for code in ("shallot", "leek"):
        record(ledger, an_ingredient(code))
    snapshots.at(newest(ledger))
    with another_ledger(tmp_path) as restored:
        record(restored, an_ingredient("celery"))
        snapshots._ledger = restored
        found = snapshots.at(newest(restored))
        assert found.position == newest(restored)
        assert set(found.kitchen.ingredients) == {"celery"}


@contextmanager
def another_ledger(folder: Path) -> Iterator[SqlLedger]:
    migrate(url := f"sqlite:///{folder / 'restored.db'}")
    engines = open_engines(url)
    try:
        yield SqlLedger(engines)
    finally:
        engines.dispose()


def test_who_asks_for_one_thing_does_not_wait_for_another_that_is_being_made(ledger: SqlLedger) -> None:
    """The rows of five thousand dishes take a second: a till that polls one dish is not to wait for them."""
    snapshot, begun, asked = at(ledger, Snapshots(ledger), TODAY), threading.Event(), threading.Event()

    def all_dishes() -> str:
        begun.set()
        return "made beside" if asked.wait(10) else "made before"

    with ThreadPoolExecutor(1) as pool:
        rows = pool.submit(lambda: snapshot.kept("all dishes", all_dishes))
        assert begun.wait(10)
        assert snapshot.kept("one dish", lambda: "a dish") == "a dish"
        asked.set()
        assert rows.result() == "made beside"


def test_what_two_ask_for_at_once_is_made_once(ledger: SqlLedger) -> None:
    snapshot, made = at(ledger, Snapshots(ledger), TODAY), list[int]()
    both = threading.Barrier(2)

    def make() -> list[int]:
        made.append(1)
        threading.Event().wait(0.05)
        return made

    def ask() -> list[int]:
        both.wait(10)
        return snapshot.kept("rows", make)

    with ThreadPoolExecutor(2) as pool:
        one, other = [each.result() for each in [pool.submit(ask), pool.submit(ask)]]
    assert one is other
    assert made == [1]


def test_what_could_not_be_made_is_tried_again_by_who_asks_next(ledger: SqlLedger) -> None:
    snapshot = at(ledger, Snapshots(ledger), TODAY)
    with pytest.raises(ZeroDivisionError):
        snapshot.kept("rows", lambda: 1 // 0)
    assert snapshot.kept("rows", lambda: 1) == 1


def test_who_makes_something_of_one_snapshot_and_needs_another_never_waits_for_who_builds_that_one_of_it(
        ledger: SqlLedger) -> None:
    """The board compares with yesterday, whose snapshot may be built meanwhile from the board's own."""
    building, asked = threading.Event(), threading.Event()
    first = at(ledger, Snapshots(ledger), TODAY)

    def built_of_the_first(build: Callable[[], Snapshot]) -> Snapshot:
        building.set()
        assert asked.wait(10)
        first.prices()
        return build()

    snapshots, found = Snapshots(ledger, built_of_the_first), list[Snapshot]()

    def board() -> Snapshot:
        assert building.wait(10)
        asked.set()
        return at(ledger, snapshots, TODAY - timedelta(days=1))

    def tomorrow() -> Snapshot:
        return at(ledger, snapshots, TODAY + timedelta(days=1))

    works = [threading.Thread(target=lambda: found.append(first.kept("board", board)), daemon=True),
             threading.Thread(target=lambda: found.append(tomorrow()), daemon=True)]
    for thread in works:
        thread.start()
    for thread in works:
        thread.join(10)
    assert len(found) == 2


def test_what_a_snapshot_leaves_behind_is_freed_with_it_and_waits_for_no_garbage_collector(ledger: SqlLedger) -> None:
    """The collector looks through what has lived long so seldom that a busy worker would keep hours of it."""
    snapshots, menus = Snapshots(ledger), list[weakref.ref[object]]()
    gc.disable()
    try:
        for number in range(KEPT + 5):
            record(ledger, a_dish(f"dish-{number}"))
            snapshot = snapshots.at(newest(ledger))
            snapshot.columns()
            menus.append(weakref.ref(snapshot.menu.get()))
        del snapshot
        assert [number for number, menu in enumerate(menus[:3]) if menu() is not None] == []
        assert menus[-1]() is not None
    finally:
        gc.enable()
