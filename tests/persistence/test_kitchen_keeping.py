"""Which kitchens a worker keeps, seen by how often one is read whole."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import Connection

from service.domain.supplier import Supplier
from service.persistence import kitchen_keeping
from service.persistence.engines import Engines
from service.persistence.kitchen_reading import KnownKitchen
from service.persistence.ledger import SqlLedger
from tests.builders import a_dish, a_line, a_price, an_ingredient, some_settings
from tests.persistence.writing import CHEF, record, take_back

PAGES = 8


@pytest.fixture
def read_whole(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The revisions that were read whole, as they are."""
    revisions = list[int]()
    load = kitchen_keeping.load

    def counted(connection: object, revision: int) -> object:
        revisions.append(revision)
        return load(connection, revision)

    monkeypatch.setattr(kitchen_keeping, "load", counted)
    return revisions


def test_a_walk_amid_writes_reads_its_revision_whole_once(ledger: SqlLedger, read_whole: list[int]) -> None:
    walked = record(ledger, an_ingredient())
    first = ledger.kitchen(walked)
    for page in range(PAGES):
        for writer in range(3):
            ledger.kitchen(record(ledger, an_ingredient(f"good-{page}-{writer}")))
        assert ledger.kitchen(walked) == first
    assert read_whole.count(walked) <= 2, "at first as the newest one, and once more when it had become an earlier one"


def test_the_last_few_earlier_ones_are_kept_and_no_more(ledger: SqlLedger, read_whole: list[int]) -> None:
    revisions = [record(ledger, an_ingredient(f"good-{number}")) for number in range(6)]
    ledger.kitchen(revisions[-1])
    asked = revisions[kitchen_keeping.KEPT_OF_EARLIER::-1]
    for revision in (*asked, *asked[1:]):
        assert len(ledger.kitchen(revision).ingredients) == revisions.index(revision) + 1
    assert read_whole == [revisions[-1], *asked], "none is kept that lies before"
    kept = [ledger.kitchen(revision) for revision in asked[1:]]
    ledger.kitchen(asked[0])
    assert [ledger.kitchen(revision) is one for revision, one in zip(asked[2:], kept[1:], strict=True)] == [True, True]
    assert ledger.kitchen(asked[1]) is not kept[0], "the longest kept one made room"
    assert ledger.kitchen(asked[1]) == kept[0]


def test_who_asks_for_a_revision_that_others_have_just_left_behind_has_it_at_once(
        ledger: SqlLedger, read_whole: list[int]) -> None:
    asked = record(ledger, an_ingredient())
    first = ledger.kitchen(asked)
    for writer in range(kitchen_keeping.KEPT_OF_LEFT):
        ledger.kitchen(record(ledger, an_ingredient(f"good-{writer}")))
    assert ledger.kitchen(asked) is first
    assert read_whole == [asked], "as the first one that this worker read"


def test_an_earlier_one_is_read_from_the_nearest_kept_before_it_and_equals_one_read_whole(
        ledger: SqlLedger, engines: Engines, read_whole: list[int]) -> None:
    """Of a worker that has passed it by: versions, prices and withdrawals of before, at it and after it."""
    plate = a_line("ingredient shallot")
    record(ledger, some_settings(), Supplier("fenmoor", "Fenmoor Yard"), an_ingredient(), a_dish("plate", plate))
    record(ledger, a_price("9", ingredient="shallot"), a_price("10", ingredient="shallot"))
    kitchen, between = ledger.kitchen(ledger.head().revision), []
    for turn in range(3):
        if turn == 1:
            with ledger.write(CHEF) as work:
                take_back(work, kitchen.prices["shallot"][0])
        between.append(record(ledger, a_price(f"1{turn}.50", ingredient="shallot"), an_ingredient(f"good-{turn}"),
                              a_dish("plate", *[plate] * (turn + 2))))
    ledger.kitchen(ledger.head().revision)
    before = list(read_whole)
    found = {revision: ledger.kitchen(revision) for revision in (between[1], between[0], between[1] - 1)}
    assert read_whole == before, "each was read from the one that this worker had left"
    for revision, kitchen in found.items():
        assert kitchen == SqlLedger(engines).kitchen(revision)


def test_who_asks_for_the_newest_does_not_wait_for_one_who_reads_an_earlier_one(
        ledger: SqlLedger, monkeypatch: pytest.MonkeyPatch) -> None:
    early = record(ledger, an_ingredient())
    ledger.kitchen(record(ledger, an_ingredient("good")))
    begun, go_on, load = threading.Event(), threading.Event(), kitchen_keeping.load

    def slow(connection: Connection, revision: int) -> KnownKitchen:
        begun.set()
        assert go_on.wait(20)
        return load(connection, revision)

    monkeypatch.setattr(kitchen_keeping, "load", slow)
    with ThreadPoolExecutor() as threads:
        reading = threads.submit(ledger.kitchen, early)
        assert begun.wait(20)
        newest = threads.submit(ledger.kitchen, record(ledger, an_ingredient("better")))
        try:
            assert "better" in newest.result(10).ingredients
            assert not reading.done()
        finally:
            go_on.set()
        assert "good" not in reading.result(20).ingredients
