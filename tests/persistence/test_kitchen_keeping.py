"""Which kitchens a worker keeps, seen by how often one is read whole."""

import pytest

from service.persistence import kitchen_keeping
from service.persistence.ledger import SqlLedger
from tests.builders import an_ingredient
from tests.persistence.writing import record

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
    asked = revisions[:kitchen_keeping.KEPT_OF_EARLIER + 1]
    for revision in (*asked, *asked[1:]):
        assert len(ledger.kitchen(revision).ingredients) == revisions.index(revision) + 1
    assert read_whole == [revisions[-1], *asked]
    ledger.kitchen(asked[0])
    assert read_whole[-1] == asked[0]


def test_who_asks_for_a_revision_that_others_have_just_left_behind_has_it_at_once(
        ledger: SqlLedger, read_whole: list[int]) -> None:
    asked = record(ledger, an_ingredient())
    first = ledger.kitchen(asked)
    for writer in range(kitchen_keeping.KEPT_OF_LEFT):
        ledger.kitchen(record(ledger, an_ingredient(f"good-{writer}")))
    assert ledger.kitchen(asked) is first
    assert read_whole == [asked], "as the first one that this worker read"
