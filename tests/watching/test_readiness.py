"""A worker's first snapshot and its readiness: built once, waited for, and no fault of a database that is away."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from service import operating, wiring
from service.settings import Settings
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.watching import readiness as module
from service.watching.first_snapshot import FirstSnapshot
from service.watching.readiness import Readiness
from tests.builders import a_dish, a_line, an_ingredient
from tests.persistence.writing import record
from tests.watching.serving import until


def nothing() -> None:
    """Builds at once."""


def a_readiness(build: Callable[[], None], **more: Callable[[], bool]) -> Readiness:
    return Readiness(lambda: True, build, **{"stays": lambda: True} | more)


def test_a_short_start_is_over_at_the_first_look() -> None:
    assert a_readiness(nothing).soon() == {"database": True, "snapshot": True}


def test_a_long_one_is_told_and_begun_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "PATIENCE_SECONDS", 0.05)
    built, builds = threading.Event(), list[int]()

    def build() -> None:
        builds.append(1)
        built.wait(30)

    ready = a_readiness(build)
    for look in (ready.now, ready.soon, ready.soon):
        assert look() == {"database": True, "snapshot": False}
    built.set()
    until(lambda: ready.now()["snapshot"], 30)
    assert builds == [1]


def test_of_those_who_look_one_alone_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "PATIENCE_SECONDS", 30.0)
    built = threading.Event()
    ready = a_readiness(lambda: built.wait(30) and None)
    waiting = threading.Thread(target=ready.soon)
    waiting.start()
    until(ready._waiting.locked, 30)
    assert ready.soon() == {"database": True, "snapshot": False}
    assert waiting.is_alive()
    built.set()
    waiting.join(30)
    assert not waiting.is_alive()


def test_the_others_of_a_service_are_waited_for() -> None:
    started = [False]
    ready = a_readiness(nothing, started=lambda: started[0])
    ready.now()
    assert ready.first.is_there(30)
    assert ready.now() == {"database": True, "snapshot": False}
    started[0] = True
    assert ready.now() == {"database": True, "snapshot": True}


def test_who_leaves_asks_nothing_and_builds_nothing() -> None:
    ready = a_readiness(nothing, stays=lambda: False)
    assert ready.soon() == {"stays": False}
    assert not ready.first.is_there(0.05)


def test_a_database_that_is_away_is_waited_for_and_a_defect_is_not(caplog: pytest.LogCaptureFixture) -> None:
    away = [LedgerUnavailable("away"), LedgerUnavailable("not migrated")]

    def fits() -> bool:
        if away:
            raise away.pop()
        return True

    first, told = FirstSnapshot(fits, nothing, pause_seconds=0.01), threading.Event()
    first.begin(told.set)
    assert first.is_there(30)
    assert told.wait(30)
    assert away == []

    def broken() -> None:
        raise KeyError("a defect")

    defect = FirstSnapshot(lambda: True, broken)
    defect.begin()
    assert defect.is_there(30)
    assert "could not be built" in caplog.text


def test_a_worker_has_what_its_first_poll_needs_and_an_empty_ledger_nothing(sqlite_url: str) -> None:
    settings = Settings(database_url=sqlite_url)
    for filled in (False, True):
        if filled:
            with operating.opened_ledger(settings) as ledger:
                record(ledger, an_ingredient("flour"), a_dish("loaf", a_line("ingredient flour", "500", "g")))
        app = wiring.web_app(settings)
        assert app.test_client().get("/health/ready").json == {"status": "pass"}
        snapshots = wiring.parts_of(app).positions.snapshots._kept
        assert [list(each.kitchen.dishes) for each in snapshots.values()] == ([["loaf"]] if filled else [])
        assert all(each.kept_already("allergens") is not None for each in snapshots.values())


def test_before_the_database_is_there_it_is_not_ready_and_then_it_is(tmp_path: Path) -> None:
    settings = Settings(database_url=f"sqlite:///{tmp_path}/later.db")
    client = wiring.web_app(settings).test_client()
    assert (client.get("/health/ready").status_code, client.get("/health/ready").json) == (503, {"status": "fail"})
    operating.migrate(settings)
    assert client.get("/health/ready").json == {"status": "pass"}
