"""Walking through kitchens of the past: each step equals a full load, and the worker's own kitchen stays put."""

from datetime import date, timedelta
from decimal import Decimal

from service.domain.history import Mark
from service.domain.price import Price
from service.domain.supplier import Supplier
from service.persistence.engines import Engines
from service.persistence.ledger import SqlLedger
from service.use_cases.ports import Entry
from tests.builders import a_dish, a_line, an_ingredient
from tests.conftest import SettableClock
from tests.persistence.writing import CHEF, record

TODAY = date(2026, 3, 2)


def some_revisions(ledger: SqlLedger, clock: SettableClock) -> int:
    """Six revisions on three days, one of which moves no figure."""
    record(ledger, Supplier("fenmoor", "Fenmoor"), an_ingredient("beef"))
    record(ledger, a_price(14))
    clock.move(days=1)
    record(ledger, a_dish("grill", a_line("ingredient beef")))
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("said", "note", "one", {}))
    record(ledger, a_price(15))
    clock.move(days=1)
    return record(ledger, a_dish("grill", a_line("ingredient beef", "2")))


def a_price(amount: int) -> Price:
    return Price("beef", "fenmoor", Decimal(amount), Decimal(1), "kg", TODAY, None, "", Mark(0, 0))


def test_each_kitchen_on_the_way_equals_one_loaded_whole(ledger: SqlLedger, clock: SettableClock, engines: Engines
                                                         ) -> None:
    head = some_revisions(ledger, clock)
    walk = ledger.walk()
    for revision in range(head + 1):
        assert walk.at(revision) == SqlLedger(engines).kitchen(revision)


def test_a_walk_goes_back_as_well(ledger: SqlLedger, clock: SettableClock, engines: Engines) -> None:
    head = some_revisions(ledger, clock)
    walk = ledger.walk()
    assert [walk.at(revision).revision for revision in (head, 2, head)] == [head, 2, head]
    assert walk.at(2) == SqlLedger(engines).kitchen(2)


def test_a_walk_that_the_workers_kitchen_passes_shares_what_it_holds(ledger: SqlLedger, clock: SettableClock) -> None:
    head = some_revisions(ledger, clock)
    own, walk = ledger.kitchen(head), ledger.walk()
    assert walk.at(head) is own
    later = record(ledger, an_ingredient("shallot"))
    assert walk.at(later).ingredients.keys() == {"beef", "shallot"}
    assert ledger.kitchen(head) is own
    assert ledger.kitchen(later) == walk.at(later)


def test_the_revisions_that_move_figures_are_told_in_order(ledger: SqlLedger, clock: SettableClock) -> None:
    head = some_revisions(ledger, clock)
    found = ledger.figure_revisions(0, 100)
    assert [(one.number, one.on_date) for one in found] == [
        (1, TODAY), (2, TODAY), (3, TODAY + timedelta(days=1)), (5, TODAY + timedelta(days=1)),
        (head, TODAY + timedelta(days=2))]
    assert [one.hash for one in found] == [ledger.figures_at(one.number)[1] for one in found]
    assert [one.number for one in ledger.figure_revisions(2, 2)] == [3, 5]
    assert ledger.figure_revisions(head, 100) == ()


def test_before_a_day_stands_the_last_revision_of_the_days_before(ledger: SqlLedger, clock: SettableClock) -> None:
    some_revisions(ledger, clock)
    days = [TODAY + timedelta(days=ahead) for ahead in range(4)]
    assert [ledger.figures_before(day) for day in days] == [0, 2, 5, 6]
