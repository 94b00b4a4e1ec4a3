"""What is leased of allowances, in its table: sums that no two workers get twice, and never a wait for a writer."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import select

from service.persistence.allowances import KEPT_SECONDS, SqlBookings
from service.persistence.engines import open_engines
from service.persistence.tables.allowances import allowance
from service.use_cases.allowances import Allowances
from service.use_cases.keys import create_key
from service.use_cases.ledger_unavailable import LedgerUnavailable, OnlyReads
from tests.persistence.writing import CHEF

MINUTE = 1_772_445_600


def rows(engines):
    with engines.read() as connection:
        return [tuple(row) for row in connection.execute(select(allowance).order_by(*allowance.primary_key.columns))]


def test_leases_of_one_minute_add_up_and_holders_are_apart(engines):
    bookings = SqlBookings(engines)
    assert [bookings.book("till", MINUTE, units) for units in (50, 7, 3)] == [50, 57, 60]
    assert bookings.book("feed", MINUTE, 1) == 1
    assert rows(engines) == [(MINUTE, "feed", 1), (MINUTE, "till", 60)]


def test_what_has_long_passed_is_forgotten(engines):
    bookings = SqlBookings(engines)
    for minute in range(MINUTE, MINUTE + KEPT_SECONDS + 121, 60):
        bookings.book("till", minute, 1)
    assert [starts for starts, _, _ in rows(engines)] == list(range(MINUTE + 120, MINUTE + KEPT_SECONDS + 121, 60))


def test_on_a_copy_that_is_only_read_a_worker_counts_alone_and_forgets_too(engines, monkeypatch):
    def refuse(_):
        raise OnlyReads("a copy")

    monkeypatch.setattr(type(engines.copy), "refuse", refuse)
    bookings = SqlBookings(engines)
    for number in range(60):
        minute = MINUTE + number * 60
        bookings.book(f"job {number}", minute, 1)
        assert [bookings.book("till", minute, units) for units in (50, 7)] == [50, 57]
    assert "till" in bookings._alone
    assert len(bookings._alone) < 15
    assert rows(engines) == []


def test_no_two_workers_get_the_same_part(database_url):
    """Every sum that is answered is another one; a booking that would have waited is told, and not booked."""
    opened = [open_engines(database_url) for _ in range(4)]

    def book_often(engines):
        sums = []
        for _ in range(60):
            try:
                sums.append(SqlBookings(engines).book("till", MINUTE, 10))
            except LedgerUnavailable:
                continue
        return sums

    with ThreadPoolExecutor(4) as threads:
        answered = [found for sums in threads.map(book_often, opened) for found in sums]
    assert sorted(answered) == list(range(10, 10 * len(answered) + 1, 10))
    assert len(answered) >= 60
    assert rows(opened[0]) == [(MINUTE, "till", 10 * len(answered))]
    for engines in opened:
        engines.dispose()


def test_a_long_writer_neither_stops_a_key_nor_makes_it_wait(sqlite_url, clock):
    """The writer is another process's: on SQLite its lock is the file's."""
    writer, worker = open_engines(sqlite_url), open_engines(sqlite_url)
    allowances = Allowances(SqlBookings(worker), clock)
    with writer.write():
        started = time.monotonic()
        assert not any(allowances.take("till", 6_000).refused for _ in range(100))
        assert time.monotonic() - started < 2, "SQLite's own patience is five seconds"
        assert rows(worker) == []
    for _ in range(400):
        allowances.take("till", 6_000)
    assert rows(worker)[0][2] >= 500 * 10, "what was lent is booked with the next lease"
    writer.dispose()
    worker.dispose()


def test_a_writer_of_a_price_list_is_not_kept_waiting_by_leases(ledger, engines, clock):
    """Keys are made while another key is counted by several threads: all of it is recorded."""
    allowances, done = Allowances(SqlBookings(engines), clock), threading.Event()

    def ask():
        while not done.is_set():
            allowances.take("till", 1_000_000)

    asking = [threading.Thread(target=ask) for _ in range(2)]
    for thread in asking:
        thread.start()
    try:
        for number in range(10):
            create_key(ledger, f"till {number}", ["costs:read"], None, CHEF)
    finally:
        done.set()
        for thread in asking:
            thread.join()
    assert ledger.head().revision == 10


def test_a_key_keeps_its_own_allowance_and_is_found_with_it(ledger):
    made = create_key(ledger, "till", ["costs:read"], None, CHEF, 600).document
    plain = create_key(ledger, "desk", ["read"], None, CHEF).document
    assert (made["requests_per_minute"], plain["requests_per_minute"]) == (600, None)
    assert {key.id: key.requests_per_minute for key in ledger.every_key()} == {made["id"]: 600, plain["id"]: None}


@pytest.mark.parametrize("per_minute", [0, -1, 1_000_001])
def test_the_database_refuses_an_allowance_that_is_none(ledger, per_minute):
    with pytest.raises(Exception, match="requests_per_minute"):
        create_key(ledger, "till", ["costs:read"], None, CHEF, per_minute)
