"""Figures of a closed period are final: every way in which one could change is refused, and nothing else is.

The clock stands on 2 March 2026; the books are closed through 28 February. What is published for that day is compared
before and after whatever is still allowed.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.domain.errors import Fault, PeriodClosed, Refused
from service.domain.history import Mark
from service.domain.kitchen_settings import KitchenSettings
from service.domain.supplier import Supplier
from service.domain.yield_test import YieldTest
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.cost_rows import dish_row
from service.use_cases.keep_record import Kept, keep_record
from service.use_cases.kept_kinds import (
    breakdown_kind,
    dish_kind,
    ingredient_kind,
    recipe_kind,
    settings_kind,
    supplier_item_kind,
    supplier_kind,
)
from service.use_cases.kinds import SETTINGS, Kind
from service.use_cases.ports import Asker
from service.use_cases.position import Position
from service.use_cases.record_price import PriceAsked, record_price
from service.use_cases.record_yield_test import record_yield_test
from service.use_cases.retire_record import retire_record
from service.use_cases.set_aside_yield_test import set_aside_yield_test
from service.use_cases.snapshots import Snapshots
from service.use_cases.withdraw_price import withdraw_price
from tests.builders import (
    a_breakdown,
    a_conversion,
    a_dish,
    a_line,
    a_main,
    a_primal,
    a_recipe,
    a_yield_test,
    an_ingredient,
    an_item,
    some_settings,
    some_trim,
)

FINANCE = Asker("k1", "finance", "request")
ANY = Condition(any_tag=True)
JANUARY, CLOSED, FIRST_OPEN, TODAY = date(2026, 1, 5), date(2026, 2, 28), date(2026, 3, 1), date(2026, 3, 2)
SETTINGS_IN_FORCE = some_settings(closed_through=CLOSED)
SEAMED = a_breakdown(a_main("topside-cap", "0.2"), some_trim("topside-mince", "0.7"))
PLATE = a_dish("plate", a_line("cut topside-cap", "0.2"), a_line("recipe jus", "0.1", "l"), menu_price="20")
WEIGHED = {"topside-cap": "1.7", "topside-mince": "5.8"}


def keep(ledger: SqlLedger, kind: Kind, record: Any, start: date | None = None, code: str = "") -> Kept:
    named = code or getattr(record, "code", SETTINGS)
    there = bool(kind.history(ledger.kitchen(ledger.head().revision), named))
    return keep_record(ledger, kind, named, record, start, ANY if there else Condition(), FINANCE)


def price(ledger: SqlLedger, start: date | None, amount: str = "14.20") -> str:
    asked = PriceAsked("fenmoor", Decimal(amount), Decimal(1), "kg", start)
    return str(record_price(ledger, "beef-topside", asked, FINANCE).document["id"])


def weighed_on(day: date) -> YieldTest:
    return a_yield_test("8.6", WEIGHED, tested_on=day)


@pytest.fixture
def closed(ledger: SqlLedger) -> SqlLedger:
    """A topside on a plate with a jus, priced and tested in January; then February is closed."""
    keep(ledger, settings_kind, some_settings())
    keep(ledger, supplier_kind, Supplier("fenmoor", "Fenmoor"))
    keep(ledger, ingredient_kind, a_primal(preferred_supplier="fenmoor"))
    price(ledger, JANUARY)
    keep(ledger, breakdown_kind, SEAMED)
    record_yield_test(ledger, weighed_on(JANUARY), FINANCE)
    keep(ledger, recipe_kind, a_recipe("jus", a_line("cut topside-mince")))
    keep(ledger, dish_kind, PLATE)
    keep(ledger, settings_kind, SETTINGS_IN_FORCE)
    return ledger


def published(ledger: SqlLedger) -> dict[str, Any]:
    """What is published of the plate for the last closed day, but for the revision."""
    head = ledger.head()
    row = dish_row(Snapshots(ledger).at(Position(head.figures_revision, head.figures_hash, CLOSED)), "plate")
    assert row["status"] == "complete"
    return {name: value for name, value in row.items() if name != "revision"}


def refusal(ledger: SqlLedger, write: Callable[[], Any]) -> Fault:
    """The one fault of a write that leaves the head where it was."""
    head = ledger.head()
    with pytest.raises((Refused, PeriodClosed)) as refused:
        write()
    assert ledger.head() == head
    [fault] = getattr(refused.value, "faults", [refused.value])
    assert isinstance(fault, PeriodClosed)
    assert fault.more["closed_through"] == CLOSED
    assert str(CLOSED) in fault.detail
    assert "closed_through" in fault.detail
    return fault


@pytest.mark.parametrize("start", [JANUARY, CLOSED])
def test_a_price_cannot_start_on_a_closed_day(closed: SqlLedger, start: date) -> None:
    fault = refusal(closed, lambda: price(closed, start))
    assert fault.pointer == "#/effective_from"
    assert str(FIRST_OPEN) in fault.detail


def test_a_price_that_held_on_a_closed_day_cannot_be_withdrawn_and_one_of_after_can(closed: SqlLedger) -> None:
    before = published(closed)
    of_january = closed.kitchen(closed.head().revision).prices["beef-topside"][0].id
    fault = refusal(closed, lambda: withdraw_price(closed, "beef-topside", of_january, "a slip", FINANCE))
    assert str(FIRST_OPEN) in fault.detail
    later = price(closed, FIRST_OPEN, "99")
    withdraw_price(closed, "beef-topside", later, "a slip", FINANCE)
    assert published(closed) == before


@pytest.mark.parametrize(("kind", "record"), [
    (ingredient_kind, a_primal(preferred_supplier=None)), (dish_kind, replace(PLATE, menu_price=Decimal(25))),
    (recipe_kind, a_recipe("jus", a_line("cut topside-mince", "2"))),
    (breakdown_kind, a_breakdown(a_main("topside-cap", "0.3"), some_trim("topside-mince", "0.6"))),
    (settings_kind, replace(SETTINGS_IN_FORCE, default_tax_rate_percent=Decimal(10)))])
def test_a_version_cannot_start_on_a_closed_day_and_can_start_after(
    closed: SqlLedger, kind: Kind, record: Any
) -> None:
    before = published(closed)
    for start in (JANUARY, CLOSED):
        fault = refusal(closed, lambda start=start: keep(closed, kind, record, start))
        assert fault.pointer == "#/effective_from"
    assert keep(closed, kind, record, FIRST_OPEN).outcome == "replaced"
    assert published(closed) == before


@pytest.mark.parametrize(("kind", "code"), [(dish_kind, "plate"), (supplier_kind, "holt"), (recipe_kind, "stock")])
def test_nothing_can_be_retired_from_a_closed_day_on(closed: SqlLedger, kind: Kind, code: str) -> None:
    keep(closed, supplier_kind, Supplier("holt", "Holt"))
    keep(closed, recipe_kind, a_recipe("stock", a_line("cut topside-mince")))
    before = published(closed)
    fault = refusal(closed, lambda: retire_record(closed, kind, code, CLOSED, ANY, FINANCE))
    assert fault.more["parameter"] == "effective_from"
    assert str(FIRST_OPEN) in fault.detail
    retire_record(closed, kind, code, FIRST_OPEN, ANY, FINANCE)
    assert published(closed) == before


def test_a_test_of_a_closed_day_is_neither_recorded_nor_set_aside(closed: SqlLedger) -> None:
    before = published(closed)
    of_january = closed.kitchen(closed.head().revision).yield_tests["topside-seamed"][0].id
    assert refusal(closed, lambda: record_yield_test(closed, weighed_on(CLOSED), FINANCE)).pointer == "#/tested_on"
    refusal(closed, lambda: set_aside_yield_test(closed, "topside-seamed", of_january, "wet scale", FINANCE))
    recorded = record_yield_test(closed, weighed_on(FIRST_OPEN), FINANCE).document
    set_aside_yield_test(closed, "topside-seamed", recorded["id"], "wet scale", FINANCE)
    assert published(closed) == before


def test_what_was_not_there_may_hold_from_the_beginning(closed: SqlLedger) -> None:
    """It changes no figure that was published; but it does not start on a closed day by its own word."""
    before = published(closed)
    for kind, record in ((ingredient_kind, an_ingredient("shallot")), (supplier_kind, Supplier("holt", "Holt")),
                         (dish_kind, a_dish("soup", a_line("recipe jus", "0.3", "l")))):
        assert keep(closed, kind, record).document["in_force_from"] is None
    refusal(closed, lambda: keep(closed, ingredient_kind, an_ingredient("leek"), CLOSED))
    assert published(closed) == before


def test_what_was_retired_cannot_come_back_on_a_closed_day(closed: SqlLedger) -> None:
    retire_record(closed, dish_kind, "plate", TODAY, ANY, FINANCE)
    keep(closed, settings_kind, replace(SETTINGS_IN_FORCE, closed_through=TODAY))
    with pytest.raises(Refused) as refused:
        keep_record(closed, dish_kind, "plate", PLATE, None, Condition(), FINANCE)
    assert [type(fault) for fault in refused.value.faults] == [PeriodClosed]


def test_facts_that_are_not_dated_may_change_also_while_today_is_closed(closed: SqlLedger) -> None:
    keep(closed, settings_kind, replace(SETTINGS_IN_FORCE, closed_through=date(2026, 3, 31)))
    topside = a_primal(preferred_supplier="fenmoor", name="Topside", conversions=(a_conversion("each", "8.4", "kg"),))
    assert keep(closed, ingredient_kind, topside).outcome == "replaced"
    assert keep(closed, supplier_kind, Supplier("fenmoor", "Fenmoor Yard")).outcome == "replaced"
    with pytest.raises(Refused):
        keep(closed, ingredient_kind, replace(topside, preferred_supplier=None))


def test_a_supplier_s_items_move_no_figure_and_are_kept_on_any_day(closed: SqlLedger) -> None:
    before = published(closed)
    code = "fenmoor/10-2345"
    keep(closed, supplier_item_kind, an_item(), JANUARY, code)
    retire_record(closed, supplier_item_kind, code, CLOSED, ANY, FINANCE)
    assert published(closed) == before


@pytest.mark.parametrize("through", [None, JANUARY, date(2026, 3, 31)])
def test_the_period_is_closed_further_or_opened_by_the_settings_like_any_other(
    closed: SqlLedger, through: date | None
) -> None:
    """Also while today is closed; settings that are left out of a PUT start today."""
    keep(closed, settings_kind, replace(SETTINGS_IN_FORCE, closed_through=date(2026, 4, 30)))
    kept = keep(closed, settings_kind, replace(SETTINGS_IN_FORCE, closed_through=through))
    assert kept.document["closed_through"] == (through and through.isoformat())
    head = closed.head().revision
    [entry] = closed.entries(Mark(head - 1, 1), 9, head)
    assert entry.document["closed_through"] == kept.document["closed_through"]
    if through is None:
        assert price(closed, date(2020, 1, 1))


def test_a_rate_cannot_slip_in_with_the_opening_of_the_period(closed: SqlLedger) -> None:
    """What is closed while the change is made decides; opening the period is a change of its own."""
    keep(closed, settings_kind, replace(SETTINGS_IN_FORCE, closed_through=TODAY))
    both = replace(SETTINGS_IN_FORCE, closed_through=None, default_tax_rate_percent=Decimal(10))
    with pytest.raises(Refused) as refused:
        keep(closed, settings_kind, both)
    assert [fault.pointer for fault in refused.value.faults] == ["#/effective_from"]
    keep(closed, settings_kind, replace(SETTINGS_IN_FORCE, closed_through=None))
    assert keep(closed, settings_kind, both).outcome == "replaced"


def test_a_ledger_without_settings_has_no_closed_period(ledger: SqlLedger) -> None:
    assert ledger.kitchen(0).settings_on(TODAY) == KitchenSettings()
    assert ledger.kitchen(0).settings_on(TODAY).closed_through is None


def test_the_fault_is_told_beside_the_others(closed: SqlLedger) -> None:
    asked = PriceAsked("holt", Decimal("-1"), Decimal(1), "l", CLOSED)
    with pytest.raises(Refused) as refused:
        record_price(closed, "beef-topside", asked, FINANCE)
    assert {fault.pointer for fault in refused.value.faults} == {
        "#/amount", "#/effective_from", "#/supplier", "#/pack_unit"}
