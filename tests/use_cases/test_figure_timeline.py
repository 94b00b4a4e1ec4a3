"""The timeline of figures: whoever follows it holds what a full read gives, at every step, and knows why."""

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.domain.dish import Dish
from service.domain.history import Mark
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price
from service.domain.supplier import Supplier
from service.domain.timeline import BEFORE_THE_FIRST, MovedBy, Place, next_day_of_figures
from service.persistence.ledger import SqlLedger
from service.use_cases.cost_rows import dish_rows
from service.use_cases.figure_timeline import NOT_FIGURES, FigureTimeline, Step
from service.use_cases.position import Position
from service.use_cases.snapshots import Snapshots
from tests.builders import a_dish, a_line, a_recipe, an_ingredient
from tests.conftest import SettableClock
from tests.persistence.writing import CHEF, record, take_back

TODAY = date(2026, 3, 2)
FENMOOR = Supplier("fenmoor", "Fenmoor")
Follow = Callable[[], list[Step]]


def a_price_of(ingredient: str, amount: object, start: date = TODAY, end: date | None = None) -> Price:
    return Price(ingredient, "fenmoor", Decimal(str(amount)), Decimal(1), "kg", start, end, "", Mark(0, 0))


class Follower:
    """Somebody who knows the menu by the steps alone."""

    def __init__(self, ledger: SqlLedger) -> None:
        self.ledger = ledger
        self.timeline = FigureTimeline(ledger, Snapshots(ledger))
        self.place = BEFORE_THE_FIRST
        self.menu: dict[str, Any] = {}

    def follow(self) -> list[Step]:
        steps = list(self.timeline.steps(self.place, self.ledger.head(), self.ledger.today()))
        for step in steps:
            for change in step.changes:
                assert self.menu.get(change.dish) == change.before
                assert change.before != change.after
                if change.after is None:
                    del self.menu[change.dish]
                else:
                    self.menu[change.dish] = change.after
            self.place = step.place
        return steps


def full_read(ledger: SqlLedger) -> dict[str, Any]:
    """The menu as a worker that knows nothing reads it."""
    head = ledger.head()
    snapshot = Snapshots(ledger).at(Position(head.figures_revision, head.figures_hash, ledger.today()))
    return {row["dish"]: {name: value for name, value in row.items() if name not in NOT_FIGURES}
            for row in dish_rows(snapshot)}


@pytest.fixture
def follower(ledger: SqlLedger) -> Follower:
    record(ledger, FENMOOR)
    record(ledger, an_ingredient("beef"), an_ingredient("shallot"))
    record(ledger, a_recipe("jus", a_line("ingredient shallot", "0.2")))
    record(ledger, a_price_of("beef", 14), a_price_of("shallot", 2))
    record(ledger, a_dish("grill", a_line("ingredient beef", "0.2"), menu_price="12"),
           a_dish("stew", a_line("recipe jus", "0.1", "l"), menu_price="9.5"))
    found = Follower(ledger)
    found.follow()
    return found


def test_whoever_follows_from_the_beginning_holds_the_menu(follower: Follower) -> None:
    assert follower.menu.keys() == {"grill", "stew"}
    assert follower.menu == full_read(follower.ledger)
    assert follower.follow() == []


def test_a_price_moves_the_dishes_above_it_and_is_their_cause(follower: Follower) -> None:
    revision = record(follower.ledger, a_price_of("beef", 15))
    [step] = follower.follow()
    assert (step.place, step.moved_by) == (Place(revision, TODAY), MovedBy.REVISION)
    [moved] = step.changes
    assert moved.dish == "grill"
    assert [(cause.kind, cause.code, cause.made) for cause in moved.causes] == [("price", "beef", Mark(revision, 1))]
    assert [(price.ingredient, price.before.unit_price, price.after.unit_price) for price in step.prices] == [
        ("beef", 14, 15)]


def test_what_is_scheduled_is_told_when_its_day_begins_and_not_before(follower: Follower, clock: SettableClock
                                                                      ) -> None:
    tomorrow = TODAY + timedelta(days=1)
    revision = record(follower.ledger, a_price_of("beef", 15, tomorrow, tomorrow))
    assert [step.changes for step in follower.follow()] == [()]
    clock.move(days=3)
    first, last = follower.follow()
    assert [(step.moved_by, step.place) for step in (first, last)] == [
        (MovedBy.DATE, Place(revision, tomorrow)), (MovedBy.DATE, Place(revision, tomorrow + timedelta(days=1)))]
    assert [[(cause.code, cause.action) for cause in step.changes[0].causes] for step in (first, last)] == [
        [("beef", "starts")], [("beef", "ends")]]
    assert first.changes[0].after == last.changes[0].before
    assert follower.menu == full_read(follower.ledger)


def test_polls_of_days_on_which_nothing_begins_read_the_kitchen_once(
    follower: Follower, clock: SettableClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A till stays at the place where something moved last, and asks for days on end whether anything has begun."""
    record(follower.ledger, a_price_of("beef", 15, TODAY + timedelta(days=5)))
    follower.follow()
    looks: list[date] = []

    def counted(kitchen: Kitchen, after: date, up_to: date) -> date | None:
        looks.append(after)
        return next_day_of_figures(kitchen, after, up_to)

    monkeypatch.setattr("service.use_cases.figure_timeline.next_day_of_figures", counted)
    for _ in range(5):
        assert follower.follow() == []
        clock.move(days=1)
    [step] = follower.follow()
    assert (step.moved_by, [change.dish for change in step.changes]) == (MovedBy.DATE, ["grill"])
    assert looks == [TODAY]
    assert follower.menu == full_read(follower.ledger)


def test_a_day_begins_before_what_was_recorded_on_it(follower: Follower, clock: SettableClock) -> None:
    tomorrow = TODAY + timedelta(days=1)
    record(follower.ledger, a_price_of("beef", 15, tomorrow))
    follower.follow()
    clock.move(days=1)
    record(follower.ledger, a_price_of("shallot", 3, tomorrow))
    assert [(step.moved_by, [change.dish for change in step.changes]) for step in follower.follow()] == [
        (MovedBy.DATE, ["grill"]), (MovedBy.REVISION, ["stew"])]


def test_of_many_prices_in_one_revision_each_dish_is_told_its_own(follower: Follower) -> None:
    record(follower.ledger, a_price_of("beef", 16), a_price_of("shallot", 5))
    [step] = follower.follow()
    assert {change.dish: [cause.code for cause in change.causes] for change in step.changes} == {
        "grill": ["beef"], "stew": ["shallot"]}


def test_a_retired_supplier_takes_the_cost_of_what_he_sold_along(follower: Follower) -> None:
    record(follower.ledger, FENMOOR, retired=True, start=TODAY)
    [step] = follower.follow()
    assert {change.dish: [cause.kind for cause in change.causes] for change in step.changes} == {
        "grill": ["supplier"], "stew": ["supplier"]}
    assert [price.after.price for price in step.prices] == [None, None]


def test_a_leap_of_one_key_does_not_stand_in_for_the_step_of_others(follower: Follower, clock: SettableClock) -> None:
    """A key with costs:read alone that was away leaps to where its days open, be it the end of a day's step."""
    tomorrow = TODAY + timedelta(days=1)
    revision = record(follower.ledger, a_price_of("beef", 15, tomorrow))
    follower.follow()
    clock.move(days=1)
    leap = follower.timeline.step(follower.place, Place(revision, tomorrow), MovedBy.EARLIER)
    assert (leap.moved_by, leap.prices, leap.changes[0].causes) == (MovedBy.EARLIER, (), ())
    [step] = follower.follow()
    assert (step.moved_by, [price.ingredient for price in step.prices]) == (MovedBy.DATE, ["beef"])
    assert [(cause.code, cause.action) for cause in step.changes[0].causes] == [("beef", "starts")]


def test_a_tax_rate_that_starts_moves_every_dish(follower: Follower, clock: SettableClock) -> None:
    record(follower.ledger, KitchenSettings(default_tax_rate_percent=Decimal(20)), start=TODAY + timedelta(days=2))
    follower.follow()
    before = dict(follower.menu)
    clock.move(days=2)
    [step] = follower.follow()
    assert [change.dish for change in step.changes] == sorted(
        dish for dish in before if before[dish]["price_before_tax"] != follower.menu[dish]["price_before_tax"])
    assert {cause.kind for change in step.changes for cause in change.causes} == {"settings"}
    assert len(step.changes) == 2


def test_every_worker_finds_the_same_steps_from_anywhere(follower: Follower, clock: SettableClock) -> None:
    randomly_move(follower, clock, writes=18, seed=7)
    whole = list(FigureTimeline(follower.ledger, Snapshots(follower.ledger)).steps(
        BEFORE_THE_FIRST, follower.ledger.head(), follower.ledger.today()))
    for number in range(0, len(whole), 6):
        other = FigureTimeline(follower.ledger, Snapshots(follower.ledger))
        assert list(other.steps(whole[number].start, follower.ledger.head(), follower.ledger.today())
                    ) == whole[number:]


@pytest.mark.parametrize("seed", range(3))
def test_following_equals_reading_through_random_writes_and_days(follower: Follower, clock: SettableClock, seed: int
                                                                 ) -> None:
    randomly_move(follower, clock, writes=30, seed=seed)


def randomly_move(follower: Follower, clock: SettableClock, writes: int, seed: int) -> None:
    chance, ledger = random.Random(seed), follower.ledger
    for _ in range(writes):
        _write_something(chance, ledger)
        if chance.random() < 0.2:
            clock.move(days=chance.randint(1, 2))
        if chance.random() < 0.4:
            follower.follow()
            assert follower.menu == full_read(ledger)


def _write_something(chance: random.Random, ledger: SqlLedger) -> None:
    start = ledger.today() + timedelta(days=chance.randint(-2, 3))
    prices = [price for of in ledger.kitchen(ledger.head().revision).prices.values() for price in of
              if price.withdrawn is None]
    what = chance.choice(["price"] * 4 + ["withdraw", "dish", "off the menu", "recipe", "supplier", "tax"])
    if what == "price":
        end = start + timedelta(days=chance.randint(0, 3)) if chance.random() < 0.5 else None
        record(ledger, a_price_of(chance.choice(["beef", "shallot"]), chance.randint(1, 20), start, end))
    elif what == "withdraw" and prices:
        with ledger.write(CHEF) as work:
            take_back(work, chance.choice(prices))
    elif what == "dish":
        record(ledger, a_dish(chance.choice(["grill", "stew", "pie"]), a_line("ingredient beef", "0.3"),
                              a_line("recipe jus", "0.1", "l")), start=start)
    elif what == "off the menu":
        gone: Dish = a_dish(chance.choice(["grill", "stew"]), a_line("ingredient beef", "0.3"))
        record(ledger, gone, start=start, retired=True)
    elif what == "recipe":
        record(ledger, a_recipe("jus", a_line("ingredient shallot", f"0.{chance.randint(1, 9)}")), start=start)
    elif what == "supplier":
        record(ledger, FENMOOR, start=start, retired=chance.random() < 0.5)
    else:
        record(ledger, replace(KitchenSettings(), default_tax_rate_percent=Decimal(chance.randint(0, 25))), start=start)
