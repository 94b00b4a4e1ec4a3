"""What webhooks are told of a kitchen that moves: each event once, to those who hear, with no write at midnight too.

The clock stands on 2 March 2026. A grilled steak takes 200 g at 14 a kilogram: 2.80, of 12 before tax; its target of
30 % is at 3.60, so that it is crossed at 18 a kilogram.
"""

import random
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.domain.dish import Dish
from service.domain.history import Mark
from service.domain.price import Price
from service.domain.supplier import Supplier
from service.domain.webhook import Ended
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.cost_rows import dish_rows
from service.use_cases.keep_webhook import WebhookAsked, change_webhook, delete_webhook, end_webhook
from service.use_cases.position import Position
from service.use_cases.snapshots import Snapshots
from service.use_cases.told_changes import FIGURES
from service.use_cases.webhooks_port import Told
from tests.builders import a_dish, a_line, an_ingredient, some_settings
from tests.conftest import SettableClock
from tests.persistence.writing import record, take_back
from tests.use_cases.webhooks_heard import OFFICE, Teller, a_webhook, any_target, heard, types

TODAY = date(2026, 3, 2)
ANY = Condition(any_tag=True)
STEAK = a_dish("steak", a_line("ingredient beef", "0.2"), menu_price="12", tax_rate_percent="0",
               target_food_cost_percent="30")


def a_price_of(amount: object, ingredient: str = "beef", start: date = TODAY, end: date | None = None) -> Price:
    return Price(ingredient, "fenmoor", Decimal(str(amount)), Decimal(1), "kg", start, end, "", Mark(0, 0))


@pytest.fixture
def kitchen(ledger: SqlLedger) -> SqlLedger:
    record(ledger, some_settings(), Supplier("fenmoor", "Fenmoor"), an_ingredient("beef"), an_ingredient("shallot"),
           a_price_of(14), a_price_of(2, "shallot"), STEAK)
    return ledger


@pytest.fixture
def teller(kitchen: SqlLedger, clock: SettableClock) -> Teller:
    return Teller(kitchen, clock)


def rows(ledger: SqlLedger) -> dict[str, Any]:
    """The figures of the menu as a worker that knows nothing reads them."""
    head = ledger.head()
    snapshot = Snapshots(ledger).at(Position(head.figures_revision, head.figures_hash, ledger.today()))
    return {row["dish"]: {name: row[name] for name in FIGURES} for row in dish_rows(snapshot)}


def test_a_dearer_price_is_told_with_what_it_does(kitchen: SqlLedger, teller: Teller, clock: SettableClock) -> None:
    webhook = a_webhook(kitchen)
    revision = record(kitchen, a_price_of(19))
    teller.tell()
    messages = heard(kitchen, clock, webhook)
    assert types(messages) == [("price.changed", "beef"), ("dish.cost_changed", "steak"),
                               ("dish.outside_target", "steak")]
    assert [one["data"]["sequence"] for one in messages] == [1, 2, 3]
    assert {one["data"]["webhook"] for one in messages} == {webhook}
    assert {(one["data"]["revision"], one["data"]["as_of"], one["data"]["moved_by"]) for one in messages} == {
        (revision, "2026-03-02", "revision")}
    assert messages[1]["data"]["causes"] == [{"kind": "price", "action": "recorded"}]
    assert {"food_cost", "food_cost_percent", "within_target"} <= set(messages[1]["data"]["changed"])
    assert messages[0]["timestamp"] == "2026-03-02T10:00:00.000000Z"


def texts_in(value: Any) -> list[str]:
    """Every value below, as text: an identifier may hold any digits, so that a search in the whole would find some."""
    below = value.values() if isinstance(value, dict) else value if isinstance(value, list) else None
    return [str(value)] if below is None else [text for one in below for text in texts_in(one)]


def test_messages_are_thin_unless_figures_were_asked_for(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    thin, full = a_webhook(kitchen), a_webhook(kitchen, figures=True)
    before = rows(kitchen)["steak"]
    revision = record(kitchen, a_price_of(19))
    teller.tell()
    for message in heard(kitchen, clock, thin):
        assert not message["data"].keys() & {"before", "after", "more_causes"}
        assert not {"14", "19", "14.0000", "19.0000"} & set(texts_in(message["data"]))
    price, cost, crossed = (message["data"] for message in heard(kitchen, clock, full))
    assert (price["before"]["amount"], price["after"]["amount"]) == ("14", "19")
    assert price["after"]["unit_price"] == "19.0000"
    assert cost["before"] == crossed["before"] == before
    assert cost["after"] == crossed["after"] == rows(kitchen)["steak"]
    assert cost["causes"] == [{"kind": "price", "code": "beef", "action": "recorded", "revision": revision, "entry": 1}]


def test_a_target_is_crossed_once_and_once_back(kitchen: SqlLedger, teller: Teller, clock: SettableClock) -> None:
    webhook = a_webhook(kitchen, "dish.outside_target", "dish.back_within_target")
    told = []
    for amount in ("18", "18.01", "19", "20", "18", "17", "16", "18.01"):
        record(kitchen, a_price_of(amount))
        teller.tell()
        told.append([kind.partition(".")[2] for kind, _ in types(heard(kitchen, clock, webhook))])
    assert told == [[], ["outside_target"], [], [], ["back_within_target"], [], [], ["outside_target"]]


def test_a_figure_that_is_not_known_in_between_crosses_nothing(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    webhook = a_webhook(kitchen, "dish.outside_target", "dish.back_within_target")
    record(kitchen, a_price_of(19))
    retired = an_ingredient("beef", preferred_supplier="harrow")
    record(kitchen, Supplier("harrow", "Harrow"))
    record(kitchen, retired)
    assert rows(kitchen)["steak"]["within_target"] is None
    record(kitchen, an_ingredient("beef"))
    assert rows(kitchen)["steak"]["within_target"] is False
    record(kitchen, retired)
    record(kitchen, a_price_of(14), an_ingredient("beef"))
    teller.tell()
    assert types(heard(kitchen, clock, webhook)) == [("dish.outside_target", "steak"),
                                                     ("dish.back_within_target", "steak")]


def test_coming_onto_the_menu_outside_the_target_crosses_it_and_leaving_does_not(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    webhook = a_webhook(kitchen, "dish.outside_target", "dish.back_within_target", "dish.cost_changed")
    cheap = replace(STEAK, code="cheap", menu_price=Decimal(6))
    record(kitchen, cheap)
    record(kitchen, cheap, retired=True)
    record(kitchen, cheap)
    teller.tell()
    on, off = [("dish.cost_changed", "cheap"), ("dish.outside_target", "cheap")], [("dish.cost_changed", "cheap")]
    assert types(heard(kitchen, clock, webhook)) == [*on, *off, *on]


def test_a_dish_that_was_outside_when_the_webhook_was_made_is_told_when_it_is_back(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    record(kitchen, a_price_of(19))
    webhook = a_webhook(kitchen, "dish.outside_target", "dish.back_within_target")
    record(kitchen, a_price_of(20))
    record(kitchen, a_price_of(10))
    teller.tell()
    assert types(heard(kitchen, clock, webhook)) == [("dish.back_within_target", "steak")]


def test_what_begins_at_midnight_is_told_with_no_write(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    revision = record(kitchen, a_price_of(19, start=TODAY + timedelta(days=1)))
    webhook = a_webhook(kitchen)
    teller.tell()
    assert heard(kitchen, clock, webhook) == []
    head = kitchen.head()
    clock.move(days=1)
    teller.tell()
    messages = heard(kitchen, clock, webhook)
    assert types(messages) == [("price.changed", "beef"), ("dish.cost_changed", "steak"),
                               ("dish.outside_target", "steak")]
    assert {(one["data"]["revision"], one["data"]["as_of"], one["data"]["moved_by"], one["timestamp"])
            for one in messages} == {(revision, "2026-03-03", "date", "2026-03-03T00:00:00.000000Z")}
    assert kitchen.head() == head


def test_a_webhook_hears_of_what_comes_after_its_making(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    early = a_webhook(kitchen, "price.changed")
    record(kitchen, a_price_of(15))
    late = a_webhook(kitchen, "price.changed")
    record(kitchen, a_price_of(16))
    teller.tell()
    told = {webhook: [one["data"]["sequence"] for one in heard(kitchen, clock, webhook)] for webhook in (early, late)}
    assert told == {early: [1, 2], late: [1]}


def test_nothing_is_told_of_what_moves_no_figure(kitchen: SqlLedger, teller: Teller, clock: SettableClock) -> None:
    webhook = a_webhook(kitchen)
    a_webhook(kitchen)
    record(kitchen, replace(STEAK, name="Another name"))
    teller.tell()
    assert heard(kitchen, clock, webhook) == []


def test_one_that_was_off_hears_nothing_of_that_time(kitchen: SqlLedger, teller: Teller, clock: SettableClock) -> None:
    webhook = a_webhook(kitchen, "price.changed")
    asked = WebhookAsked("https://hooks.example/told", ("price.changed",))
    record(kitchen, a_price_of(15))
    teller.tell()
    change_webhook(kitchen, webhook, replace(asked, active=False), True, any_target, ANY, OFFICE)
    record(kitchen, a_price_of(16))
    teller.tell()
    change_webhook(kitchen, webhook, asked, True, any_target, ANY, OFFICE)
    record(kitchen, a_price_of(17))
    teller.tell()
    assert [one["data"]["sequence"] for one in heard(kitchen, clock, webhook)] == [2], "the first was cancelled"
    states = [one.state.value for one in kitchen.webhooks.deliveries(webhook, None, 10, None)]
    assert states == ["delivered", "cancelled"]


def test_after_a_time_without_webhooks_the_walk_begins_where_the_next_is_made(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    first = a_webhook(kitchen)
    record(kitchen, a_price_of(19))
    teller.tell()
    delete_webhook(kitchen, first, ANY, OFFICE)
    teller.tell()
    assert kitchen.webhooks.cursor().place is None
    record(kitchen, a_price_of(10))
    second = a_webhook(kitchen, "dish.outside_target", "dish.back_within_target")
    record(kitchen, a_price_of(19))
    teller.tell()
    assert types(heard(kitchen, clock, second)) == [("dish.outside_target", "steak")]


def test_a_long_step_is_told_in_parts_and_none_is_left_out(kitchen: SqlLedger, clock: SettableClock) -> None:
    record(kitchen, *(replace(STEAK, code=f"steak-{number}") for number in range(20)))
    webhook = a_webhook(kitchen)
    in_parts, at_once = Teller(kitchen, clock, most_messages=3), Teller(kitchen, clock)
    record(kitchen, a_price_of(19))
    assert in_parts.tell_some(), "the cursor begins"
    sizes = []
    while in_parts.tell_some():
        sizes.append(len(heard(kitchen, clock, webhook)))
    assert len(sizes) > 10
    assert max(sizes) <= 4
    assert sum(sizes) == 1 + 2 * 21
    at_once.tell()
    assert heard(kitchen, clock, webhook) == []


def test_of_two_that_tell_at_once_one_does(kitchen: SqlLedger, teller: Teller, clock: SettableClock) -> None:
    webhook = a_webhook(kitchen)
    teller.tell()
    seen = kitchen.webhooks.cursor()
    record(kitchen, a_price_of(19))
    teller.tell()
    stale = Told((), seen.place, 0, 0, (), (), {webhook: kitchen.head().revision})
    assert not kitchen.webhooks.tell(seen, stale, clock())
    assert len(heard(kitchen, clock, webhook)) == 3


def test_what_was_worked_out_for_a_webhook_that_has_changed_since_is_not_stored(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    webhook = a_webhook(kitchen)
    teller.tell()
    cursor, revision = kitchen.webhooks.cursor(), kitchen.head().revision
    worked_out = Told((), cursor.place, 0, 7, (), (), {webhook: revision})
    end_webhook(kitchen, webhook, Ended.FAILING, OFFICE)
    assert not kitchen.webhooks.tell(cursor, worked_out, clock())
    assert kitchen.webhooks.cursor() == cursor


@pytest.mark.parametrize("seed", range(2))
def test_two_tellers_tell_of_random_days_what_a_watcher_sees(
    kitchen: SqlLedger, clock: SettableClock, seed: int
) -> None:
    """Held against a watcher that reads the whole menu after every write and every midnight, and knows no step."""
    chance = random.Random(seed)
    tellers = [Teller(kitchen, clock, most_messages=chance.choice((2, 500))) for _ in range(2)]
    webhook = a_webhook(kitchen, figures=True)
    menu, outside = rows(kitchen), set()
    expected: list[tuple[str, str]] = []

    def watch() -> None:
        nonlocal menu
        now = rows(kitchen)
        for dish in sorted(menu.keys() | now.keys()):
            if menu.get(dish) != now.get(dish):
                expected.append(("dish.cost_changed", dish))
            within = now[dish]["within_target"] if dish in now else None
            if within is False and dish not in outside:
                expected.append(("dish.outside_target", dish))
                outside.add(dish)
            elif within and dish in outside:
                expected.append(("dish.back_within_target", dish))
            if within or dish not in now:
                outside.discard(dish)
        menu = now

    shown: dict[str, Any] = dict(menu)
    told: list[tuple[str, str]] = []
    for _ in range(25):
        clock.move(hours=chance.choice((0, 1, 12)))
        watch()
        _write(kitchen, chance)
        watch()
        if chance.random() < 0.5:
            chance.choice(tellers).tell_some()
    for teller in tellers:
        teller.tell()
    for message in heard(kitchen, clock, webhook):
        if "dish" in message["data"]:
            told += types([message])
            if message["type"] == "dish.cost_changed":
                data = message["data"]
                assert shown.get(data["dish"]) == data["before"]
                shown[data["dish"]] = data["after"]
    assert told == expected
    assert len(told) >= 8
    assert {dish: figures for dish, figures in shown.items() if figures is not None} == rows(kitchen)


def _write(ledger: SqlLedger, chance: random.Random) -> None:
    today = ledger.today()
    code, menu_price = chance.choice(("steak", "minute-steak")), Decimal(chance.randint(8, 14))
    dish: Dish = replace(STEAK, code=code, menu_price=menu_price)
    what = chance.random()
    if what < 0.6:
        start = today + timedelta(days=chance.choice((0, 0, 1, 2)))
        end = start + timedelta(days=1) if chance.random() < 0.3 else None
        record(ledger, a_price_of(chance.randint(10, 24), start=start, end=end))
    elif what < 0.8:
        record(ledger, dish)
    elif what < 0.9 and dish.code in rows(ledger):
        record(ledger, dish, start=today, retired=True)
    else:
        price = chance.choice([one for one in ledger.kitchen(ledger.head().revision).prices["beef"]
                               if one.withdrawn is None][-2:])
        with ledger.write(OFFICE) as work:
            take_back(work, price)


def test_a_message_stays_far_below_twenty_kilobytes_whatever_moved_it(
    kitchen: SqlLedger, teller: Teller, clock: SettableClock
) -> None:
    """Standard Webhooks 1.0.0, "Payload size": under 20 kB."""
    spices = [an_ingredient(f"spice-{number:03}") for number in range(90)]
    record(kitchen, *spices, *(a_price_of(3, spice.code) for spice in spices))
    record(kitchen, a_dish("rub", *(a_line(f"ingredient {spice.code}", "0.01") for spice in spices), menu_price="30"))
    webhook = a_webhook(kitchen, "dish.cost_changed", figures=True)
    record(kitchen, *(a_price_of(4, spice.code) for spice in spices))
    teller.tell()
    now = datetime(2026, 3, 2, 10, tzinfo=UTC)
    (claimed,) = kitchen.webhooks.claim(webhook, 10, now, now)
    assert len(claimed.body.encode()) < 6_000
    assert '"more_causes":70' in claimed.body
