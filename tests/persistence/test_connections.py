"""How many connections a process holds on PostgreSQL, who waits for one and for how long, and what is lost with one.

Source: PostgreSQL documentation, section 13.5 and appendix A: what 40001 and 40P01 mean.
"""

import re
import threading
import time
from collections import deque
from concurrent.futures import ThreadPoolExecutor

import psycopg
import pytest
from sqlalchemy import event
from sqlalchemy.exc import OperationalError

from service.domain.supplier import Supplier
from service.persistence import connection_shares, database_faults, postgresql_engine
from service.persistence.connection_shares import shares_of
from service.persistence.engines import Copy, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.quick_statements import Quick
from service.settings import Settings
from service.use_cases.ledger_unavailable import LedgerUnavailable, MayBeRecorded, OnlyReads, Undone
from tests.architecture.source_tree import TOP
from tests.persistence.writing import CHEF, add, record

THREADS, ROUNDS = 24, 2
_HELD = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"


@pytest.mark.parametrize("connections", [1, 4, 5, 8, 9, 16, 512])
def test_what_a_process_may_hold_is_split_and_never_exceeded(connections):
    shares = shares_of(connections)
    assert shares.together == max(4, connections)
    assert min(shares.quick, shares.passing, shares.writing, shares.reading) >= 1


def test_the_documents_count_as_many_connections_as_a_process_may_hold():
    shares = shares_of(Settings().database_connections)
    most, developers = shares.together, (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"A worker holds at most {most} connections" in developers
    assert (f"{shares.quick} for single statements, {shares.passing} in passing, {shares.writing} for\nwrites, "
            f"{shares.reading} for reads") in developers
    assert f"    connections  {most} n at most (+ {most} for the deliverer)" in developers
    assert f"| connections | SQLite: none | 5 x {most} = {5 * most} at most |" in developers
    assert f"A worker holds at\nmost {most} connections" in (TOP / "README.md").read_text(encoding="utf-8")
    rows = {kind: int(count) for count, kind in re.findall(r"\| (\d+) \| (\w+)", connection_shares.__doc__)}
    assert rows == {"quick": shares.quick, "in": shares.passing, "writes": shares.writing, "reads": shares.reading}


def test_more_threads_than_connections_all_get_their_turn(postgres_url):
    """Each thread writes, reads a kitchen anew, and asks what every request asks; the server counts connections."""
    engines = open_engines(postgres_url, pool_size=8)
    ledger = SqlLedger(engines)
    record(ledger, Supplier("fenmoor", "Fenmoor"))
    most, ended = 0, threading.Event()

    def watch():
        nonlocal most
        with psycopg.connect(postgres_url, autocommit=True) as looking:
            while not ended.wait(0.01):
                most = max(most, looking.execute(_HELD).fetchone()[0])

    def work(number):
        for turn in range(ROUNDS):
            revision = record(ledger, Supplier(f"supplier-{number}", str(turn)))
            assert ledger.head().revision >= revision
            assert f"supplier-{number}" in SqlLedger(engines).kitchen(revision).suppliers
            ledger.touch_key("nobody", ledger._clock())

    watching = threading.Thread(target=watch)
    watching.start()
    try:
        with ThreadPoolExecutor(THREADS) as threads:
            done = [threads.submit(work, number) for number in range(THREADS)]
            faults = [one.exception() for one in done if one.exception() is not None]
        head = ledger.head().revision
    finally:
        ended.set()
        watching.join()
        engines.dispose()
    assert faults == []
    assert head == 1 + THREADS * ROUNDS
    assert 4 < most <= 8


def test_who_gets_no_connection_in_time_is_told_that_the_ledger_is_not_to_be_had(postgres_url, monkeypatch):
    monkeypatch.setattr(connection_shares, "PATIENCE_SECONDS", 0.2)
    engines = open_engines(postgres_url, pool_size=4)
    ledger = SqlLedger(engines)
    try:
        with engines.read(), pytest.raises(LedgerUnavailable, match="QueuePool limit"):
            ledger.every_key()
        with engines.write(), pytest.raises(LedgerUnavailable, match="QueuePool limit"):
            record(ledger, Supplier("fenmoor", "Fenmoor"))
        with engines.write(), engines.read():
            assert ledger.head().revision == 0
        assert record(ledger, Supplier("fenmoor", "Fenmoor")) == 1
    finally:
        engines.dispose()


def test_a_quick_statement_waits_for_a_connection_and_not_for_ever():
    answering = threading.Event()

    class Slow:
        def execute(self, *_asked):
            answering.wait(10)
            return self

        def fetchone(self):
            return (1,)

    quick = Quick(Slow, (psycopg.OperationalError,), connections=1, patience_seconds=0.2)
    with ThreadPoolExecutor(1) as threads:
        first = threads.submit(quick.one, "SELECT 1", ())
        while quick._free._value:
            time.sleep(0.005)
        with pytest.raises(LedgerUnavailable, match="No connection"):
            quick.one("SELECT 1", ())
        answering.set()
        assert first.result() == (1,)
    assert quick.one("SELECT 1", ()) == (1,)


def test_what_is_kept_is_closed_once_whoever_closes_and_what_is_in_use_when_it_is_given_back():
    """Between a look whether one is left and taking it, another thread may have taken it."""
    class Emptied(deque):
        def __len__(self):
            return 1

    closed = []

    class Used:
        def execute(self, *_):
            quick.close()
            return self

        def fetchone(self):
            return (7,)

        def close(self):
            closed.append(self)

    quick = Quick(Used, (psycopg.OperationalError,), _idle=Emptied())
    assert quick.one("SELECT 7", ()) == (7,)
    assert (len(closed), len(quick._idle)) == (1, 0)


def test_every_kept_connection_may_have_broken_at_once(postgres_url):
    """What a restart of the server does: none of those who ask next is answered by an error."""
    engines = open_engines(postgres_url, pool_size=16)
    ledger = SqlLedger(engines)
    try:
        with ThreadPoolExecutor(8) as threads:
            assert {one.revision for one in threads.map(lambda _: ledger.head(), range(64))} == {0}
            record(ledger, Supplier("fenmoor", "Fenmoor"))
            for _ in range(2):
                assert _end_all(postgres_url) >= 2
                assert {one.revision for one in threads.map(lambda _: ledger.head(), range(64))} == {1}
                assert len(ledger.every_key()) == 0
    finally:
        engines.dispose()


def test_a_session_that_the_server_ended_is_unavailable_whatever_it_is_called(postgres_url, monkeypatch):
    """`idle_in_transaction_session_timeout` has a code of class 25, which the driver takes for a mistake of ours."""
    monkeypatch.setitem(postgresql_engine.SESSION, "idle_in_transaction_session_timeout", "100ms")
    engines = open_engines(postgres_url)
    with pytest.raises(LedgerUnavailable), engines.read() as connection:
        connection.exec_driver_sql("SELECT 1")
        time.sleep(0.5)
        connection.exec_driver_sql("SELECT 1")
    engines.dispose()


@pytest.mark.parametrize("level", ["serializable", "repeatable read"])
def test_writers_go_on_whatever_the_database_s_own_isolation_is(postgres_url, level):
    with psycopg.connect(postgres_url, autocommit=True) as connection:
        connection.execute(f"DO $$ BEGIN EXECUTE format('ALTER DATABASE %I SET default_transaction_isolation = "
                           f"''{level}''', current_database()); END $$")
    engines = open_engines(postgres_url)
    ledger = SqlLedger(engines)
    try:
        with ThreadPoolExecutor(6) as threads:
            made = list(threads.map(lambda n: [record(ledger, Supplier(f"s-{n}", str(i))) for i in range(8)], range(6)))
        assert sorted(number for each in made for number in each) == list(range(1, 49))
    finally:
        engines.dispose()


@pytest.mark.parametrize(("turned", "found"), [("off", "on"), ("on", "on"), ("local", "local"),
                                                ("remote_apply", "remote_apply")])
def test_what_is_acknowledged_is_on_the_disk_whatever_the_database_s_own_setting_is(postgres_url, turned, found):
    with psycopg.connect(postgres_url, autocommit=True) as connection:
        connection.execute(f"DO $$ BEGIN EXECUTE format('ALTER DATABASE %I SET synchronous_commit = "
                           f"''{turned}''', current_database()); END $$")
    engines = open_engines(postgres_url)
    try:
        with engines.write() as writing, engines.read() as reading:
            assert {one.exec_driver_sql("SHOW synchronous_commit").scalar() for one in (writing, reading)} == {found}
        assert engines.quick.one("SHOW synchronous_commit", ()) == (found,)
    finally:
        engines.dispose()


def test_a_transaction_that_crossed_another_is_undone_and_may_be_run_again(postgres_url):
    """Two transactions under SERIALIZABLE that read what the other writes: one is undone at its commit."""
    engines = open_engines(postgres_url)
    with engines.write() as first:
        first.exec_driver_sql("CREATE TABLE counted (n integer)")
    serializable = "SET TRANSACTION ISOLATION LEVEL SERIALIZABLE"
    with pytest.raises(Undone), engines.write() as one:
        one.exec_driver_sql(serializable)
        one.exec_driver_sql("SELECT count(*) FROM counted")
        with engines.write() as other:
            other.exec_driver_sql(serializable)
            other.exec_driver_sql("SELECT count(*) FROM counted")
            other.exec_driver_sql("INSERT INTO counted VALUES (1)")
        one.exec_driver_sql("INSERT INTO counted VALUES (2)")
    with engines.read() as connection:
        assert connection.exec_driver_sql("SELECT n FROM counted").scalars().all() == [1]
    engines.dispose()


def test_a_connection_lost_before_the_commit_has_recorded_nothing(postgres_url):
    engines = open_engines(postgres_url)
    ledger = SqlLedger(engines)
    try:
        with pytest.raises(LedgerUnavailable) as lost, ledger.write(CHEF) as work:
            assert _end_all(postgres_url) >= 1
            add(work, Supplier("fenmoor", "Fenmoor"))
        assert not isinstance(lost.value, MayBeRecorded | Undone)
        assert ledger.head().revision == 0
    finally:
        engines.dispose()


def test_a_connection_lost_at_the_commit_may_have_recorded(postgres_url):
    """The commit reaches the server, its answer does not come back."""
    engines = open_engines(postgres_url)
    ledger = SqlLedger(engines)
    dialect = engines.writing.dialect
    committed = dialect.do_commit

    def lose(connection):
        committed(connection)
        _end_all(postgres_url)
        connection.execute("SELECT 1")

    dialect.do_commit = lose
    try:
        with pytest.raises(MayBeRecorded, match="while it committed"):
            record(ledger, Supplier("fenmoor", "Fenmoor"))
        del dialect.do_commit
        assert ledger.head().revision == 1
    finally:
        engines.dispose()


def test_a_commit_that_the_server_refused_is_known_to_have_failed():
    error = OperationalError("COMMIT", {}, psycopg.errors.SerializationFailure("could not serialize access"))
    with pytest.raises(OperationalError), database_faults.faults_of_a_commit():
        raise error


def test_a_copy_that_is_only_read_is_not_asked_to_note_things_at_every_request(postgres_url):
    """And asked again by and by: a standby can be promoted."""
    now = [0.0]
    engines = open_engines(f"{postgres_url}&options=-c%20default_transaction_read_only%3Don")
    copy, asked = Copy(lambda: now[0]), []
    object.__setattr__(engines, "copy", copy)

    def note():
        with engines.write_without_waiting() as connection:
            asked.append(connection.exec_driver_sql("DELETE FROM margin_alert_cursor"))

    begun = _counted(engines.passing)
    try:
        for _ in range(5):
            with pytest.raises(OnlyReads):
                note()
        assert begun() == 1
        now[0] = 10.5
        with pytest.raises(OnlyReads):
            note()
        assert begun() == 2
        with pytest.raises(OnlyReads):
            record(SqlLedger(engines), Supplier("fenmoor", "Fenmoor"))
        assert asked == []
    finally:
        engines.dispose()


def _counted(engine):
    times = []
    event.listen(engine, "begin", lambda _connection: times.append(1))
    return lambda: len(times)


def _end_all(url):
    """End every other session of the database, and say how many there were."""
    with psycopg.connect(url, autocommit=True) as connection:
        ended = connection.execute("SELECT count(pg_terminate_backend(pid, 2000)) FROM pg_stat_activity "
                                   "WHERE datname = current_database() AND pid <> pg_backend_pid()").fetchone()
    return ended[0]
