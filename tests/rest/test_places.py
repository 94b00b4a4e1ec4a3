"""Long answers have places of their own: who finds none is asked to come again, and tills never wait for them."""

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service import wiring
from service.domain.errors import ReadersBusy
from service.interpreter import TURN_SECONDS
from service.rest.api_keys import needs
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.places import Places, takes_long
from service.settings import Settings
from tests.rest.small_kitchen import Kitchen
from tests.rest.trays import TrayAnswer, an_app, as_, trays

LONG = {"read_what_if", "read_dish_mends", "read_balance", "list_price_movements", "read_weighed_price_movements",
        "read_purchase_price_variance", "read_breakdown_comparison", "read_breakdown_comparison_of_used",
        "read_theoretical_food_cost", "read_menu_engineering", "list_food_cost_uncertainty"}


@contextmanager
def busy_views(count: int, places: Places) -> Iterator[Any]:
    """An application in which so many requests are in a view that takes long, until the block is left."""
    entered, leave = threading.Semaphore(0), threading.Event()
    blueprint = Blueprint("lids", "Lids.", url_prefix="/v1/lids")

    @blueprint.get("")
    @takes_long
    @needs("read")
    @blueprint.response(200, TrayAnswer)
    def count_lids() -> Any:
        """Count every lid."""
        entered.release()
        assert leave.wait(20)
        return {}

    app = an_app(blueprint, trays(), long_answers=places)
    threads = [threading.Thread(target=lambda: app.test_client().get("/v1/lids", headers=as_("reader")))
               for _ in range(count)]
    for thread in threads:
        thread.start()
        assert entered.acquire(timeout=20)
    try:
        yield app
    finally:
        leave.set()
        for thread in threads:
            thread.join(20)


def test_beyond_its_places_an_answer_is_503_and_others_go_on() -> None:
    with busy_views(2, Places(2, 1, patience_seconds=0.05)) as app:
        answer = app.test_client().get("/v1/lids", headers=as_("reader"))
        assert (answer.status_code, answer.json["type"]) == (503, "/docs/problems/readers-busy")
        assert int(answer.headers["Retry-After"]) > 0
        assert app.test_client().get("/v1/trays/a", headers=as_("reader")).status_code == 200
    with busy_views(1, Places(2, 1)) as app:
        assert app.test_client().get("/v1/trays/a", headers=as_("reader")).status_code == 200


def test_only_so_many_wait() -> None:
    places, inside, leave = Places(1, 1, patience_seconds=20), threading.Semaphore(0), threading.Event()

    def stays() -> None:
        with places.one():
            inside.release()
            assert leave.wait(20)

    first, second = threading.Thread(target=stays), threading.Thread(target=stays)
    first.start()
    assert inside.acquire(timeout=20)
    second.start()
    try:
        while places._door._value:
            first.join(0.01)
        with pytest.raises(ReadersBusy), places.one():
            pass
    finally:
        leave.set()
        first.join(20)
        second.join(20)


def test_a_place_is_given_back_whatever_comes_of_it() -> None:
    places = Places(1, 0)
    for _ in range(3):
        with pytest.raises(ValueError, match="wrong"), places.one():
            raise ValueError("wrong")


def test_everything_that_computes_over_the_menu_takes_a_place() -> None:
    app = wiring.web_app(Settings(database_url="sqlite:///never-opened.db"))
    marked = {name.rpartition(".")[2] for name, view in app.view_functions.items()
              if getattr(view, "takes_long", False)}
    assert marked == LONG


def test_in_a_worker_a_thread_that_computes_gives_way_after_a_thousandth_of_a_second() -> None:
    """A poll asks for the interpreter after each word with its database; Python lets it wait 5 ms each time."""
    was = sys.getswitchinterval()
    try:
        sys.setswitchinterval(0.005)
        wiring.web_app(Settings(database_url="sqlite:///never-opened.db"))
        assert sys.getswitchinterval() == pytest.approx(TURN_SECONDS)
    finally:
        sys.setswitchinterval(was)


def test_of_positions_that_are_not_the_newest_one_is_built_at_a_time(kitchen: Kitchen) -> None:
    """Three requests wait, others are asked to come again; who asks for today's is answered all along."""
    parts = kitchen.client.application.extensions[wiring.PARTS]
    snapshots, entered, leave = parts.positions.snapshots, threading.Semaphore(0), threading.Event()
    kept, statuses = type(snapshots)._build, []

    def slow(self: Any, position: Any) -> Any:
        entered.release()
        assert leave.wait(20)
        return kept(self, position)

    def ask(day: str) -> TestResponse:
        answer = kitchen.client.application.test_client().get(f"/v1/dish-costs?as_of={day}", headers=kitchen.headers)
        statuses.append(answer.status_code)
        return answer

    assert kitchen.client.get("/v1/dish-costs", headers=kitchen.headers).status_code == 200
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(type(snapshots), "_build", slow)
        threads = [threading.Thread(target=ask, args=(f"2025-03-0{number}",)) for number in range(1, 8)]
        for thread in threads:
            thread.start()
        try:
            assert entered.acquire(timeout=20)
            for thread in threads:
                thread.join(0.3)
            assert statuses == [503] * 3
            assert kitchen.client.get("/v1/dish-costs", headers=kitchen.headers).status_code == 200
        finally:
            leave.set()
            for thread in threads:
                thread.join(20)
    assert sorted(statuses) == [200] * 4 + [503] * 3


def test_the_settings_give_an_eighth_of_the_threads(tmp_path: Path) -> None:
    for threads, at_once in ((16, 2), (4, 1)):
        with pytest.MonkeyPatch.context() as patch:
            seen: list[tuple[int, int]] = []
            patch.setattr(wiring, "Places", lambda *given, seen=seen: seen.append(given))
            wiring.web_app(Settings(database_url=f"sqlite:///{tmp_path}/none.db", threads=threads))
        assert seen == [(at_once, at_once)]
