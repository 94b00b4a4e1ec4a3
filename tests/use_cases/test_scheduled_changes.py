"""What is scheduled, beside what holds today: a change is checked on the days on which it holds, and on no others.

The clock stands on 2 March 2026; what is scheduled starts on 1 April.
"""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.errors import CutMadeTwice, MissingConversion, Refused, StillInUse
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.keep_record import keep_record
from service.use_cases.kept_kinds import breakdown_kind, dish_kind, ingredient_kind, recipe_kind
from service.use_cases.kinds import Kind
from service.use_cases.ports import Asker
from service.use_cases.retire_record import retire_record
from tests.builders import a_breakdown, a_dish, a_line, a_main, a_primal, a_recipe, an_ingredient

CHEF = Asker("cli", "chef", "request")
APRIL = date(2026, 4, 1)
MAY = date(2026, 5, 1)


def keep(ledger: SqlLedger, kind: Kind, record: object, start: date | None = None, overwrite: bool = False) -> None:
    keep_record(ledger, kind, record.code, record, start, Condition(any_tag=overwrite), CHEF)  # type: ignore[attr-defined]


@pytest.fixture
def another_way_from_april(ledger: SqlLedger) -> SqlLedger:
    """A topside that is seamed one way until April, and another way, which makes the same cut, from then on."""
    keep(ledger, ingredient_kind, a_primal())
    keep(ledger, breakdown_kind, a_breakdown(a_main("topside-cap", "0.10"), code="one-way"))
    keep(ledger, breakdown_kind, a_breakdown(a_main("topside-cap", "0.12"), code="another-way"), APRIL)
    return ledger


def test_a_breakdown_may_be_changed_until_another_takes_over(another_way_from_april: SqlLedger) -> None:
    ledger = another_way_from_april
    keep(ledger, breakdown_kind, a_breakdown(a_main("topside-cap", "0.11"), code="one-way"), overwrite=True)
    recorded = ledger.kitchen(ledger.head().revision)
    in_use = {day: [code for code, breakdown in recorded.on(day).breakdowns.items() if breakdown.in_use]
              for day in (date(2026, 3, 2), APRIL)}
    assert in_use == {date(2026, 3, 2): ["one-way"], APRIL: ["another-way"]}
    assert recorded.on(date(2026, 3, 2)).breakdowns["one-way"].outputs[0].expected_yield == Decimal("0.11")


def test_a_breakdown_that_would_hold_on_when_another_starts_makes_the_cut_twice(
        another_way_from_april: SqlLedger) -> None:
    third = a_breakdown(a_main("topside-cap", "0.11"), code="third-way")
    with pytest.raises(Refused) as refusal:
        keep(another_way_from_april, breakdown_kind, third)
    assert [type(fault) for fault in refusal.value.faults] == [CutMadeTwice]


def test_a_breakdown_in_use_again_from_may_on_leaves_april_to_the_other(another_way_from_april: SqlLedger) -> None:
    ledger = another_way_from_april
    keep(ledger, breakdown_kind, a_breakdown(a_main("topside-cap", "0.11"), code="one-way"), MAY, overwrite=True)
    recorded = ledger.kitchen(ledger.head().revision)
    assert [recorded.on(day).breakdowns["one-way"].in_use for day in (APRIL, MAY)] == [False, True]
    assert [recorded.on(day).breakdowns["another-way"].in_use for day in (APRIL, MAY)] == [True, False]


@pytest.fixture
def by_the_kilogram_from_april(ledger: SqlLedger) -> SqlLedger:
    """A stock that is made by the litre until April, and by the kilogram from then on."""
    lines = a_line("ingredient shallot")
    keep(ledger, ingredient_kind, an_ingredient())
    keep(ledger, recipe_kind, a_recipe("stock", lines))
    keep(ledger, recipe_kind, a_recipe("stock", lines, makes_unit="kg"), APRIL, overwrite=True)
    return ledger


@pytest.mark.parametrize(("unit", "other", "start"), [("l", "kg", None), ("kg", "l", APRIL)])
def test_a_line_converts_into_what_the_recipe_makes_on_the_day_it_starts(
        by_the_kilogram_from_april: SqlLedger, unit: str, other: str, start: date | None) -> None:
    ledger = by_the_kilogram_from_april
    with pytest.raises(Refused) as refusal:
        keep(ledger, dish_kind, a_dish("soup", a_line("recipe stock", unit=other)), start)
    assert [type(fault) for fault in refusal.value.faults] == [MissingConversion]
    keep(ledger, dish_kind, a_dish("soup", a_line("recipe stock", unit=unit)), start)
    soup = ledger.kitchen(ledger.head().revision).on(start or date(2026, 3, 2)).dishes["soup"]
    assert soup.lines[0].unit == unit


def test_retiring_calls_off_what_was_scheduled_too(ledger: SqlLedger) -> None:
    keep(ledger, ingredient_kind, an_ingredient("shallot"))
    keep(ledger, ingredient_kind, an_ingredient("shallot", preferred_supplier=None, name="Banana shallot"), APRIL,
         overwrite=True)

    before = ledger.head().revision
    revision = retire_record(ledger, ingredient_kind, "shallot", None, Condition(any_tag=True), CHEF)
    recorded = ledger.kitchen(ledger.head().revision)

    assert (revision, ledger.head().revision) == (before + 1, before + 1)
    assert [recorded.on(day).ingredients for day in (date(2026, 3, 2), APRIL, MAY)] == [{}, {}, {}]


def test_a_breakdown_that_only_starts_later_is_not_retired_from_under_its_users(ledger: SqlLedger) -> None:
    keep(ledger, ingredient_kind, a_primal())
    keep(ledger, breakdown_kind, a_breakdown(a_main("topside-cap", "0.10"), code="from-april"), APRIL)
    keep(ledger, dish_kind, a_dish("cap", a_line("cut topside-cap")), MAY)

    with pytest.raises(Refused) as refusal:
        retire_record(ledger, breakdown_kind, "from-april", None, Condition(any_tag=True), CHEF)

    assert [type(fault) for fault in refusal.value.faults] == [StillInUse]


def test_what_is_revived_stays_also_on_the_days_that_were_called_off(ledger: SqlLedger) -> None:
    keep(ledger, ingredient_kind, an_ingredient("shallot"))
    keep(ledger, ingredient_kind, an_ingredient("shallot", preferred_supplier=None, name="Banana shallot"), APRIL,
         overwrite=True)
    retire_record(ledger, ingredient_kind, "shallot", None, Condition(any_tag=True), CHEF)

    keep(ledger, ingredient_kind, an_ingredient("shallot"))
    recorded = ledger.kitchen(ledger.head().revision)

    assert [set(recorded.on(day).ingredients) for day in (date(2026, 3, 2), APRIL, MAY)] == [{"shallot"}] * 3


def test_a_retirement_that_is_scheduled_outlives_a_correction_of_today(ledger: SqlLedger) -> None:
    keep(ledger, ingredient_kind, an_ingredient("shallot"))
    retire_record(ledger, ingredient_kind, "shallot", APRIL, Condition(any_tag=True), CHEF)

    keep(ledger, ingredient_kind, an_ingredient("shallot", name="Shallots"), overwrite=True)
    recorded = ledger.kitchen(ledger.head().revision)

    assert [set(recorded.on(day).ingredients) for day in (date(2026, 3, 2), APRIL)] == [{"shallot"}, set()]
