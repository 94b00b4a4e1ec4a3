"""A kitchen as known at a revision never changes again, and advancing equals loading anew.

The judge is a list of what was recorded, replayed by the rule in one line: of versions with the same start the last
one holds.
"""

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import event

from service.domain.history import Version
from service.domain.price import Price
from service.domain.supplier import Supplier
from service.domain.yield_test import YieldTest
from service.persistence.kitchen_reading import advance, load
from service.persistence.ledger import SqlLedger
from tests.builders import (
    a_dish,
    a_line,
    a_pack,
    a_price,
    a_primal,
    a_recipe,
    a_seamed_topside,
    a_yield_test,
    an_item,
    some_settings,
)
from tests.persistence.writing import CHEF, add, kind_and_code, record, take_back

DAY = date(2026, 3, 2)


class Replay:
    """Everything recorded so far, in order: (mark, record, start, retired), and what was taken back when."""

    def __init__(self):
        self.recorded = []
        self.taken_back = {}

    def versions(self, revision, kind):
        """Code to versions, as known at `revision`."""
        found = {}
        for mark, one, start, retired in self.recorded:
            if mark.revision <= revision and kind_and_code(one)[0] == kind:
                by_start = found.setdefault(kind_and_code(one)[1], {})
                by_start.pop(start, None)
                by_start[start] = Version(one, mark, start, retired)
        return {code: tuple(by_start.values()) for code, by_start in found.items()}

    def observed(self, revision, kind, taken):
        """Prices or tests, as known at `revision`."""
        found = {}
        for mark, one, _, _ in self.recorded:
            if mark.revision <= revision and kind_and_code(one)[0] == kind:
                withdrawal = self.taken_back.get(mark)
                known = withdrawal if withdrawal and withdrawal.made.revision <= revision else None
                found.setdefault(kind_and_code(one)[1], []).append(replace(one, made=mark, **{taken: known}))
        return {code: tuple(records) for code, records in found.items()}

    def agrees(self, kitchen):
        """Whether the kitchen is what was recorded by its revision."""
        at = kitchen.revision
        return (
            kitchen.settings == self.versions(at, "settings").get("settings", ())
            and kitchen.suppliers == self.versions(at, "supplier")
            and kitchen.ingredients == self.versions(at, "ingredient")
            and kitchen.breakdowns == self.versions(at, "breakdown")
            and kitchen.recipes == self.versions(at, "recipe")
            and kitchen.dishes == self.versions(at, "dish")
            and kitchen.supplier_items == self.versions(at, "supplier_item")
            and kitchen.prices == self.observed(at, "price", "withdrawn")
            and kitchen.yield_tests == self.observed(at, "yield_test", "set_aside")
        )


def any_record(chance):
    """Some record of some kind; what it refers to was recorded at the start."""
    number = str(chance.randint(1, 99))
    code = chance.choice(["one", "two", "three"])
    return chance.choice([
        lambda: some_settings(labour_rate_per_hour=number),
        lambda: Supplier("fenmoor", "Fenmoor", number),
        lambda: a_primal(name=f"Topside {number}", preferred_supplier=chance.choice([None, "fenmoor"])),
        lambda: a_seamed_topside(packaging_per_kg=number),
        lambda: a_recipe(code, a_line("cut topside-mince", number), a_line("ingredient beef-topside", number)),
        lambda: a_dish(code, a_line("cut topside-cap", number), menu_price=number),
        lambda: an_item(code, pack=a_pack(number)),
        lambda: a_price(number),
        lambda: a_yield_test(number, {"topside-cap": "0.7", "topside-fat": "0.4"}),
    ])()


def write_at_random(ledger, replay, chance):
    """One revision of one to four entries of any kind."""
    with ledger.write(CHEF) as work:
        kitchen = work.kitchen()
        for _ in range(chance.randint(1, 4)):
            standing = [one for group in (*kitchen.prices.values(), *kitchen.yield_tests.values()) for one in group
                        if one.made not in replay.taken_back]
            if standing and chance.random() < 0.2:
                taken = take_back(work, chance.choice(standing))
                replay.taken_back[taken.made] = taken.withdrawn if isinstance(taken, Price) else taken.set_aside
                continue
            one = any_record(chance)
            dated = not isinstance(one, Price | YieldTest)
            start = chance.choice([None, DAY, DAY + timedelta(days=7)]) if dated else None
            retired = dated and chance.random() < 0.1
            replay.recorded.append((add(work, one, start, retired), one, start, retired))


def start_of(ledger, replay):
    """What the others refer to."""
    basis = [Supplier("fenmoor", "Fenmoor"), a_primal(), a_seamed_topside()]
    with ledger.write(CHEF) as work:
        replay.recorded.extend((add(work, one), one, None, False) for one in basis)


@pytest.mark.parametrize("seed", range(2))
def test_as_known_at_any_revision_it_is_what_was_recorded_by_then(ledger, engines, clock, seed):
    chance, replay = random.Random(seed), Replay()
    start_of(ledger, replay)
    follower = SqlLedger(engines, clock)
    for number in range(2, 26):
        write_at_random(ledger, replay, chance)
        assert replay.agrees(ledger.kitchen(number))
        if chance.random() < 0.3:
            assert replay.agrees(follower.kitchen(number))
    head = ledger.head().revision
    assert head == 25
    assert follower.kitchen(head) == SqlLedger(engines, clock).kitchen(head)
    assert all(replay.agrees(follower.kitchen(revision)) for revision in range(1, head + 1))


def test_advancing_over_a_great_many_records_equals_loading(ledger, engines, clock):
    """More records of a kind than are read one by one."""
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal(), a_seamed_topside())
    ledger.kitchen(1)
    record(ledger, *(a_dish(f"dish-{number}", a_line("cut topside-cap")) for number in range(600)))
    record(ledger, *(a_dish(f"dish-{number}", a_line("cut topside-mince")) for number in range(0, 600, 3)))
    advanced, loaded = ledger.kitchen(3), SqlLedger(engines, clock).kitchen(3)
    assert len(advanced.dishes) == 600
    assert advanced == loaded


def test_a_head_that_moves_no_figure_makes_nobody_load_the_kitchen_again(ledger, engines, clock):
    """Dishes are read at the revision that moved a figure last, items at the head, in turns; two workers."""
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal(), a_seamed_topside())
    full = statements(engines, lambda: ledger.kitchen(1))
    late = SqlLedger(engines, clock)
    for number in range(2, 6):
        with ledger.write(CHEF, moves_figures=False) as work:
            add(work, an_item(str(number)))
        assert set(ledger.kitchen(number).supplier_items) == {f"fenmoor/{item}" for item in range(2, number + 1)}
        assert statements(engines, lambda: ledger.kitchen(1)) == 0
        late.kitchen(number)
        assert statements(engines, lambda: late.kitchen(1)) == (full if number == 2 else 0)
    record(ledger, a_price())
    with ledger.write(CHEF, moves_figures=False) as work:
        add(work, an_item("7"))
    for worker in (ledger, late):
        worker.kitchen(6)
        worker.kitchen(7)
        assert statements(engines, lambda worker=worker: worker.kitchen(6)) == 0
        assert worker.kitchen(6) == SqlLedger(engines, clock).kitchen(6)
        assert worker.kitchen(6) != worker.kitchen(7)


def test_the_kitchen_under_the_lock_is_the_one_before_this_work(ledger):
    record(ledger, Supplier("fenmoor", "Fenmoor"))
    with ledger.write(CHEF) as work:
        add(work, Supplier("holt", "Holt"))
        assert set(work.kitchen().suppliers) == {"fenmoor"}
    assert set(ledger.kitchen(2).suppliers) == {"fenmoor", "holt"}


def test_a_write_undone_is_not_in_the_kept_kitchen(ledger):
    record(ledger, Supplier("fenmoor", "Fenmoor"))
    with pytest.raises(RuntimeError), ledger.write(CHEF) as work:
        work.kitchen()
        add(work, Supplier("holt", "Holt"))
        raise RuntimeError("no")
    record(ledger, Supplier("brack", "Brack"))
    assert set(ledger.kitchen(2).suppliers) == {"fenmoor", "brack"}


def statements(engines, action):
    """How many statements an action takes, beside what begins and ends transactions."""
    counted = []

    def count(_connection, _cursor, statement, *_):
        counted.append(statement)

    listened = (engines.reading, engines.writing) if engines.is_sqlite else (engines.writing,)
    for engine in listened:
        event.listen(engine, "before_cursor_execute", count)
    try:
        action()
    finally:
        for engine in listened:
            event.remove(engine, "before_cursor_execute", count)
    return len([one for one in counted if not one.startswith("BEGIN")])


def a_full_kitchen(ledger, size):
    return record(
        ledger, *(a_recipe(f"recipe-{number}", a_line("cut topside-mince")) for number in range(size)),
        *(a_dish(f"dish-{number}", a_line("cut topside-cap"), a_line("recipe recipe-0")) for number in range(size)),
        *(a_price(str(number + 1)) for number in range(size)),
        *(a_yield_test("8", {"topside-cap": "1"}) for _ in range(size)))


def test_reading_takes_a_fixed_number_of_statements_whatever_the_size(ledger, engines, clock):
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal(), a_seamed_topside())
    counts = []
    for size in (2, 60):
        before = SqlLedger(engines, clock)
        before.kitchen(ledger.head().revision)
        revision = a_full_kitchen(ledger, size)
        counts.append((statements(engines, lambda before=before, revision=revision: before.kitchen(revision)),
                       statements(engines, lambda revision=revision: SqlLedger(engines, clock).kitchen(revision))))
    assert counts[0] == counts[1]
    assert max(counts[0]) <= 15


def test_the_head_takes_no_statement_of_the_pool_and_one_of_its_own(ledger, engines):
    asked = []
    real = engines.quick.one
    engines.quick.one = lambda *words: asked.append(words) or real(*words)
    assert statements(engines, lambda: (ledger.head_and_key("ab" * 32), ledger.kitchen(0), ledger.kitchen(0))) <= 15
    assert len(asked) == 1
    assert statements(engines, lambda: ledger.today_at(ledger.head_and_key("ab" * 32)[0])) == 0
    assert len(asked) == 2


def test_a_kept_kitchen_reads_the_prices_that_are_new_and_no_others(ledger, engines):
    """Also one withdrawn that was there, one made and withdrawn since, and one of an ingredient without any yet."""
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal(), a_primal("veal-topside"), a_price("1"), a_price("2"))
    follower = SqlLedger(engines)
    first = follower.kitchen(1).prices["beef-topside"]
    with ledger.write(CHEF) as work:
        add(work, a_price("3"))
        add(work, a_price("4", ingredient="veal-topside"))
        take_back(work, first[0])
    made_since = ledger.kitchen(2).prices["beef-topside"][2]
    with ledger.write(CHEF) as work:
        take_back(work, made_since)
        add(work, a_price("5"))
    found = []
    with engines.read() as connection:
        real = connection.execute
        connection.execute = lambda *asked: found.append(real(*asked).all()) or real(*asked)
        advanced = advance(connection, load_at(engines, 1), 3).kitchen
    assert advanced == SqlLedger(engines).kitchen(3) == follower.kitchen(3)
    assert [(str(one.amount), one.withdrawn is not None) for one in advanced.prices["beef-topside"]] == [
        ("1", True), ("2", False), ("3", True), ("5", False)]
    assert max(len(rows) for rows in found if rows and "pack_quantity" in rows[0]._fields) == 4


def load_at(engines, revision):
    with engines.read() as connection:
        return load(connection, revision)
