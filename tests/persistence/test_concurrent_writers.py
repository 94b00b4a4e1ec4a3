"""Several processes write to one ledger at once; some are killed; some find no database yet."""

import subprocess
import sys
import time
from pathlib import Path

import pytest

from service.domain.history import Mark
from service.domain.supplier import Supplier
from service.persistence.ledger import SqlLedger
from service.persistence.verifying import verify
from tests.builders import a_primal
from tests.persistence.writing import record

ROOT = Path(__file__).parents[2]
PROCESSES, ROUNDS = 4, 25


class Writers:
    """Processes that write. Starting one takes long, so they serve all tests of this module."""

    def __init__(self):
        self.running = []

    def start(self, number):
        while len(self.running) < number:
            self.running.append(subprocess.Popen(
                [sys.executable, "-m", "tests.persistence.writers"], cwd=ROOT, text=True,
                stdin=subprocess.PIPE, stdout=subprocess.PIPE))
            self.running[-1].waited = False
        for one in self.running:
            if not one.waited:
                assert one.stdout.readline() == "ready\n"
                one.waited = True

    def go(self, number, *job):
        """Let so many of them go together."""
        self.start(number)
        for one in self.running[:number]:
            one.stdin.write(" ".join(job) + "\n")
            one.stdin.flush()

    def said(self, number):
        """What each of them said until it was done."""
        return [[line.strip() for line in iter(one.stdout.readline, "done\n") if self.lives(one, line)]
                for one in self.running[:number]]

    @staticmethod
    def lives(one, line):
        assert line, f"the writer ended with {one.wait()}"
        return True

    def kill(self):
        """Kill all of them, and say what they had said."""
        for one in self.running:
            one.kill()
        said = [one.communicate()[0].splitlines() for one in self.running]
        self.running = []
        return said


@pytest.fixture(scope="module")
def writers():
    pool = Writers()
    yield pool
    pool.kill()


def test_no_update_is_lost_and_revisions_are_gap_free(ledger, engines, database_url, writers):
    record(ledger, Supplier("fenmoor", "Fenmoor", "0"))
    writers.go(PROCESSES, "count", database_url, str(ROUNDS))
    said = writers.said(PROCESSES)
    acknowledged = sorted(tuple(map(int, line.split())) for lines in said for line in lines)
    assert acknowledged == [(1 + number, number) for number in range(1, PROCESSES * ROUNDS + 1)]
    head = ledger.head()
    assert head.revision == 1 + PROCESSES * ROUNDS
    assert ledger.kitchen(head.revision).suppliers["fenmoor"][-1].record.note == str(PROCESSES * ROUNDS)
    assert verify(engines) == []


def test_the_check_for_lost_updates_can_fail(ledger, database_url, writers):
    """The same writers, deciding on what they read before they held the lock, do lose updates."""
    record(ledger, Supplier("fenmoor", "Fenmoor", "0"))
    writers.go(PROCESSES, "count-blindly", database_url, str(ROUNDS))
    writers.said(PROCESSES)
    stored = int(ledger.kitchen(ledger.head().revision).suppliers["fenmoor"][-1].record.note)
    assert stored < PROCESSES * ROUNDS


def test_writers_killed_amid_their_writes_leave_whole_revisions(ledger, engines, database_url, writers):
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal())
    writers.go(PROCESSES, "write", database_url)
    time.sleep(0.7)
    said = writers.kill()
    acknowledged = [int(line) for lines in said for line in lines if line.isdigit()]
    assert acknowledged
    fresh = SqlLedger(engines)
    head = fresh.head().revision
    assert max(acknowledged) <= head <= max(acknowledged) + PROCESSES
    assert verify(engines) == []
    prices = fresh.kitchen(head).prices["beef-topside"]
    expected = [Mark(revision, number) for revision in range(2, head + 1) for number in (1, 2)]
    assert [price.made for price in prices] == expected
    record(fresh, Supplier("holt", "Holt"))
    assert fresh.head().revision == head + 1


def test_several_starts_on_a_sqlite_file_that_does_not_exist_yet(tmp_path, writers):
    """F13: switching to the write-ahead log ignores the busy time-out; seen in some rounds of a hundred."""
    for number in range(8):
        url = f"sqlite:///{tmp_path / f'{number}.db'}"
        writers.go(PROCESSES, "migrate", url)
        assert writers.said(PROCESSES) == [["0"]] * PROCESSES


def test_several_starts_on_a_postgresql_database_that_is_empty_yet(postgres_server, writers):
    for _ in range(3):
        url = postgres_server.create()
        writers.go(PROCESSES, "migrate", url)
        assert writers.said(PROCESSES) == [["0"]] * PROCESSES
        postgres_server.drop(url)
