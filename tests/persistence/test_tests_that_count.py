"""Which yield tests a breakdown rests on, in the tables: kept as recorded, on both engines, and away again by 0011."""

from datetime import date

import pytest
from sqlalchemy import select
from sqlalchemy.exc import IntegrityError

from service.domain.breakdown import Breakdown
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.schema_fit import at_head
from service.persistence.tables import chain
from service.persistence.verifying import verify
from tests.builders import a_primal, a_seamed_topside
from tests.persistence.writing import record

MARCH, APRIL = date(2026, 3, 1), date(2026, 4, 1)
ALL = a_seamed_topside()
LAST_FIVE = a_seamed_topside(yields_from_last_tests=5)
SINCE_MARCH = a_seamed_topside(yields_from_tests_since=MARCH)


def breakdowns(ledger: SqlLedger, revision: int) -> list[Breakdown]:
    return [version.record for version in ledger.kitchen(revision).breakdowns["topside-seamed"]]


def test_the_tests_that_count_are_kept_as_facts_of_a_version(ledger):
    record(ledger, a_primal(), ALL)
    record(ledger, LAST_FIVE, start=MARCH)
    record(ledger, SINCE_MARCH, start=APRIL)
    assert breakdowns(ledger, 3) == [ALL, LAST_FIVE, SINCE_MARCH]
    assert breakdowns(ledger, 1) == [ALL]


def test_filled_tables_go_down_and_up_and_no_entry_is_another(ledger, engines, database_url):
    record(ledger, a_primal(), ALL)
    record(ledger, LAST_FIVE, start=MARCH)
    record(ledger, SINCE_MARCH, start=APRIL)
    with engines.read() as connection:
        entries = connection.execute(select(chain.entry)).all()
    head = ledger.head()
    migrate(database_url, "0010")
    with engines.read() as connection:
        kept = connection.exec_driver_sql("SELECT * FROM breakdown_version").mappings().all()
        assert connection.execute(select(chain.entry)).all() == entries
    assert len(kept) == 3
    assert not kept[0].keys() & {"yields_from_last_tests", "yields_from_tests_since"}
    migrate(database_url)
    fresh = SqlLedger(engines)
    assert at_head(engines)
    assert (fresh.head(), verify(engines)) == (head, [])
    assert breakdowns(fresh, 3) == [ALL] * 3


@pytest.mark.parametrize("choice", [{"yields_from_last_tests": 0},
                                    {"yields_from_last_tests": 5, "yields_from_tests_since": MARCH}])
def test_the_tables_hold_neither_no_test_nor_two_choices(ledger, choice):
    record(ledger, a_primal(), ALL)
    with pytest.raises(IntegrityError):
        record(ledger, a_seamed_topside(**choice), start=MARCH)
    assert ledger.head().revision == 1
