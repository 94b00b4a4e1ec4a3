"""Price movements as documents: causes told from the ledger, covers, the movements that are kept."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.dish import Dish
from service.domain.errors import Refused, WrongValue
from service.domain.ingredient import Ingredient
from service.domain.price import Price
from service.domain.recipe import Line
from service.domain.supplier import Supplier
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.keep_record import keep_record
from service.use_cases.kept_kinds import dish_kind, ingredient_kind, supplier_kind
from service.use_cases.kinds import Kind
from service.use_cases.ports import Asker, Entry
from service.use_cases.position import Position
from service.use_cases.price_movement_rows import Movements, dish_rows, ingredient_rows, movement_facts, revisions_of
from service.use_cases.read_price_movements import (
    CoversOfDish,
    KeptMovements,
    covers_by_dish,
    hold_to_span,
)
from service.use_cases.record_price import PriceAsked, record_price

FINANCE = Asker("key-1", "Finance desk", "request")
START, LISTED, END = date(2026, 3, 1), date(2026, 3, 9), date(2026, 3, 31)


def keep(ledger: SqlLedger, kind: Kind, code: str, record: object) -> None:
    keep_record(ledger, kind, code, record, None, Condition(), FINANCE)


def accept(ledger: SqlLedger, proposal: str, file_name: str, amounts: dict[str, str]) -> int:
    """Record prices as the acceptance of a proposal does: the prices, then an entry that names the file."""
    with ledger.write(Asker("key-2", "Approver", "request")) as work:
        for code, amount in amounts.items():
            mark = work.next_mark(Entry("record_price", "price", code, {"proposal": proposal}))
            work.add_price(Price(code, "fenmoor", Decimal(amount), Decimal(1), "kg", LISTED, None, "List 13", mark))
        work.next_mark(Entry("accept_proposal", "price_proposal", proposal, {"file_name": file_name}))
        return work.head.revision + 1


@pytest.fixture
def kitchen_of_two_dishes(ledger: SqlLedger) -> SqlLedger:
    """Shallots and salt with prices since January; a soup of both, and crisps of salt."""
    keep(ledger, supplier_kind, "fenmoor", Supplier("fenmoor", "Fenmoor Yard"))
    for code, amount in (("shallot", "2.40"), ("salt", "1.10")):
        keep(ledger, ingredient_kind, code, Ingredient(code, code.capitalize(), "dry", "kg"))
        record_price(ledger, code, PriceAsked("fenmoor", Decimal(amount), Decimal(1), "kg", date(2026, 1, 5)), FINANCE)
    for code, used in (("soup", ("shallot", "salt")), ("crisps", ("salt",))):
        lines = tuple(Line(Decimal(250), "g", ingredient=of) for of in used)
        keep(ledger, dish_kind, code, Dish(code, code.capitalize(), Decimal(2), lines))
    return ledger


def position(ledger: SqlLedger, day: date = END) -> Position:
    head = ledger.head()
    return Position(head.figures_revision, head.figures_hash, day)


def movements(ledger: SqlLedger, covers: dict[str, int] | None = None) -> Movements:
    at = position(ledger)
    kitchen = ledger.kitchen(at.revision)
    return Movements(kitchen, START, END, at.revision, KeptMovements().of(kitchen, at, START), covers)


def test_a_price_from_a_proposal_names_its_file_and_who_accepted_it(kitchen_of_two_dishes: SqlLedger) -> None:
    ledger = kitchen_of_two_dishes
    revision = accept(ledger, "7", "list-13.xlsx", {"shallot": "2.60", "salt": "1.30"})
    record_price(ledger, "salt", PriceAsked("fenmoor", Decimal("1.20"), Decimal(1), "kg", date(2026, 3, 20)), FINANCE)
    moved = movements(ledger)

    told = ledger.revisions(revisions_of(moved.moved.ingredients))
    salt, shallot = ingredient_rows(moved, moved.moved.ingredients, told)

    assert set(told) == {revision, revision + 1}
    listed, by_hand = salt["causes"]
    assert [cause["revision"] for cause in shallot["causes"]] == [revision]
    assert (listed["proposal"], listed["file_name"], listed["who"], listed["key_id"]) == (
        "7", "list-13.xlsx", "Approver", "key-2")
    assert (by_hand["proposal"], by_hand["file_name"], by_hand["who"]) == (None, None, "Finance desk")
    assert listed["made_at"] == "2026-03-02T10:00:00Z"
    assert (listed["reference"], listed["day"], listed["price"]) == ("List 13", "2026-03-09", f"{revision}-2")


def test_revisions_are_told_some_hundreds_at_a_time_and_only_those_that_are_there(
    kitchen_of_two_dishes: SqlLedger, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.persistence.entry_reading.AT_A_TIME", 2)
    ledger = kitchen_of_two_dishes
    head = ledger.head().revision
    told = ledger.revisions(range(1, head + 5))
    assert sorted(told) == list(range(1, head + 1))
    assert {revision.who for revision in told.values()} == {"Finance desk"}
    assert ledger.revisions(()) == {}


def test_the_menu_is_the_sum_of_its_dishes_by_covers(kitchen_of_two_dishes: SqlLedger) -> None:
    """A portion of soup has 125 g of each, one of crisps 125 g of salt: 0.0250 and 0.0250 dearer a portion."""
    ledger = kitchen_of_two_dishes
    accept(ledger, "7", "list-13.xlsx", {"shallot": "2.60", "salt": "1.30"})
    equal, weighed = movements(ledger), movements(ledger, {"soup": 10, "crisps": 3})
    assert [row["change"] for row in dish_rows(equal)] == ["0.0250", "0.0500"]
    assert movement_facts(equal)["menu"] == {
        "change": "0.0750", "shares_sum": "0.0750", "rounding": "0.0000", "other": "0.0000", "dishes": 2,
        "without_movement": 0}
    assert movement_facts(weighed)["menu"]["change"] == "0.5750"
    rows = ingredient_rows(weighed, weighed.moved.ingredients, ledger.revisions(
        revisions_of(weighed.moved.ingredients)))
    assert {row["ingredient"]: row["menu_share"] for row in rows} == {"salt": "0.3250", "shallot": "0.2500"}


def test_the_last_movements_are_kept_and_no_more(kitchen_of_two_dishes: SqlLedger) -> None:
    ledger = kitchen_of_two_dishes
    kept, at = KeptMovements(), position(ledger)
    kitchen = ledger.kitchen(at.revision)
    days = [date(2026, 2, day) for day in range(1, 7)]
    first = [kept.of(kitchen, at, day) for day in days]
    again = [kept.of(kitchen, at, day) for day in reversed(days)]
    assert [one is other for one, other in zip(reversed(first), again, strict=True)] == [True] * 4 + [False] * 2
    assert kept.of(kitchen, position(ledger, date(2026, 3, 30)), days[0]) is not kept.of(kitchen, at, days[0])


def test_covers_of_what_is_not_recorded_or_named_twice_are_refused_together(kitchen_of_two_dishes: SqlLedger) -> None:
    kitchen = kitchen_of_two_dishes.kitchen(kitchen_of_two_dishes.head().revision)
    given = [CoversOfDish("soup", 4), CoversOfDish("stew", 1), CoversOfDish("soup", 2)]
    with pytest.raises(Refused) as refused:
        covers_by_dish(kitchen, given)
    assert [(fault.code, fault.pointer) for fault in refused.value.faults] == [
        ("unknown-reference", "#/covers/1/dish"), ("wrong-value", "#/covers/2/dish")]
    assert covers_by_dish(kitchen, given[:1]) == {"soup": 4}


@pytest.mark.parametrize(("start", "end"), [(END, END), (END, START), (date(2025, 1, 1), END)])
def test_a_span_that_cannot_be_points_at_its_first_day(start: date, end: date) -> None:
    with pytest.raises(WrongValue) as in_query:
        hold_to_span(start, end)
    with pytest.raises(WrongValue) as in_body:
        hold_to_span(start, end, in_body=True)
    assert (in_query.value.more, in_body.value.pointer) == ({"parameter": "from"}, "#/from")
