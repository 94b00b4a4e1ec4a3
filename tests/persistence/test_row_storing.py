"""Many rows at once are stored as one by one: every value to the letter, every rule of the tables held."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import event, func, select, text
from sqlalchemy.exc import DBAPIError

from service.domain.history import Mark
from service.domain.supplier import Supplier
from service.persistence.ledger import SqlLedger
from service.persistence.numbering import UnknownIdentity
from service.persistence.row_storing import MANY, store_rows
from service.persistence.tables import chain, observed, records
from service.persistence.verifying import verify
from tests.builders import a_dish, a_line, a_price, a_primal, an_ingredient
from tests.persistence.writing import CHEF, add, record

AWKWARD = ["\t", "\n", "\r\n", "\\", "\\N", "\\.", "'", '"', "a\tb\\nc", "\u2028", "\x1f", "é\U0001f52a", "", " ",
           "NULL", "%s", "?", ":a", "{}"]
NEW_YEAR = date(2026, 1, 5)


@pytest.fixture
def kitchen(ledger):
    """A ledger at revision 1: two suppliers, and as many ingredients as are never read by name."""
    record(ledger, Supplier("fenmoor", "Fenmoor"), Supplier("holt", "Holt"), a_primal(),
           *(an_ingredient(f"ingredient-{number}") for number in range(600)))
    return ledger


def a_price_of(number, **facts):
    return a_price(str(Decimal(number) / 100), ingredient=f"ingredient-{number}", **facts)


@pytest.mark.parametrize("times", [1, MANY])
def test_every_text_comes_back_to_the_letter(ledger, times):
    notes = AWKWARD * times
    record(ledger, *(Supplier(f"s{number}", "name", note) for number, note in enumerate(notes)))
    assert [history[0].record.note for history in ledger.kitchen(1).suppliers.values()] == notes


def test_prices_by_the_hundred_come_back_as_they_were(kitchen, engines, clock):
    prices = [a_price_of(number, supplier=("fenmoor", "holt")[number % 2], reference=AWKWARD[number % len(AWKWARD)],
                         pack_quantity=str(number % 3 + 1), effective_from=NEW_YEAR + timedelta(days=number % 5),
                         effective_to=date(2026, 12, 31) if number % 7 else None) for number in range(600)]
    assert record(kitchen, *prices) == 2
    found = SqlLedger(engines, clock).kitchen(2).prices
    assert list(found) == [price.ingredient for price in prices]
    assert [(one.amount, one.supplier, one.reference, one.pack_quantity, one.effective_from, one.effective_to, one.made)
            for (one,) in found.values()] == [
        (one.amount, one.supplier, one.reference, one.pack_quantity, one.effective_from, one.effective_to,
         Mark(2, number)) for number, one in enumerate(prices, start=1)]
    assert verify(engines) == []


def test_prices_that_say_much_the_same_come_back_too(kitchen, engines, clock):
    """What all rows repeat is not sent with each of them."""
    prices = [a_price("0", reference="") for _ in range(MANY)]
    record(kitchen, *prices)
    found = SqlLedger(engines, clock).kitchen(2).prices["beef-topside"]
    assert len(found) == MANY
    assert {(one.amount, one.effective_to, one.reference, one.pack_unit) for one in found} == {
        (Decimal(0), None, "", "kg")}
    assert verify(engines) == []


@pytest.mark.parametrize("read_before", [True, False])
@pytest.mark.parametrize("facts", [{"ingredient": "shin"}, {"supplier": "brack"}])
def test_a_price_of_what_was_never_recorded_is_not_stored(kitchen, facts, read_before):
    with pytest.raises(UnknownIdentity, match=r"shin|brack"), kitchen.write(CHEF) as work:
        if read_before:
            work.kitchen()
        for number in range(2 * MANY):
            add(work, a_price_of(number))
        add(work, a_price(**facts))
    assert kitchen.head().revision == 1


@pytest.mark.parametrize("read_before", [True, False])
def test_what_is_new_is_numbered_whether_or_not_the_kitchen_was_read(kitchen, engines, clock, read_before):
    with kitchen.write(CHEF) as work:
        if read_before:
            work.kitchen()
        add(work, an_ingredient("shin"))
        add(work, a_dish("stew", a_line("ingredient shin"), a_line("ingredient ingredient-7")))
        add(work, a_price(ingredient="shin", supplier="holt"))
    fresh = SqlLedger(engines, clock).kitchen(2)
    assert [line.ingredient for line in fresh.dishes["stew"][0].record.lines] == ["shin", "ingredient-7"]
    assert [one.supplier for one in fresh.prices["shin"]] == ["holt"]


def test_one_row_against_the_rules_undoes_all_of_them(kitchen, engines):
    good = {"made_revision": 1, "ingredient_id": 1, "supplier_id": 1, "amount": Decimal(1), "pack_quantity": Decimal(1),
            "pack_unit": "kg", "effective_from": NEW_YEAR, "effective_to": None, "reference": ""}
    rows = [{"made_entry": number, **good} for number in range(1, MANY + 1)]
    for wrong in ({"pack_quantity": Decimal(0)}, {"ingredient_id": 9_999}, {"made_entry": 1},
                  {"effective_to": NEW_YEAR - timedelta(days=1)}, {"supplier_id": None}):
        with pytest.raises(DBAPIError, match=r"(?i)constraint|nothing is added"), engines.write() as connection:
            store_rows(connection, observed.price, [*rows, {"made_entry": MANY + 1, **good, **wrong}])
    with engines.read() as connection:
        assert connection.scalar(select(func.count()).select_from(observed.price)) == 0
    with engines.write() as connection:
        store_rows(connection, observed.price, rows)
    with engines.read() as connection:
        assert connection.scalar(select(func.count()).select_from(observed.price)) == MANY


def test_the_ledger_stays_append_only_however_rows_come(kitchen, engines):
    row = {"number": 3, "made_at": kitchen.entries(Mark(0, 0), 1, 1)[0].made_at, "on_date": NEW_YEAR, "key_id": "k",
           "who": "w", "request_id": "r", "moves_figures": True, "previous_hash": "ab" * 32, "hash": "cd" * 32}
    with pytest.raises(DBAPIError, match="continues the one before"), engines.write() as connection:
        store_rows(connection, chain.revision, [row])


def test_no_rows_are_no_statement(engines):
    with engines.write() as connection:
        store_rows(connection, records.supplier, [])
        assert connection.execute(text("SELECT count(*) FROM supplier")).scalar() == 0


def test_a_hundred_prices_take_as_many_statements_as_two(kitchen, engines):
    asked = []

    def count(_connection, _cursor, statement, *_):
        asked[-1].append(statement)

    event.listen(engines.writing, "before_cursor_execute", count)
    for size in (2, 100):
        asked.append([])
        record(kitchen, *(a_price_of(number) for number in range(size)))
    event.remove(engines.writing, "before_cursor_execute", count)
    assert len(asked[0]) == len(asked[1]) < 12
