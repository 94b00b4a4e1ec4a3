"""The waiting room of a worker: who waits, who is sent on, and who looks out for all."""

import threading
import time
from collections.abc import Callable, Hashable
from concurrent.futures import ThreadPoolExecutor

import pytest

from service.use_cases.waiting import PAUSE_SECONDS, Waiting


class Ledger:
    """What is looked at, and how often and by how many at a time it was."""

    def __init__(self) -> None:
        self.revision = 1
        self.looks = 0
        self.fails = False

    def look(self) -> Hashable:
        self.looks += 1
        if self.fails:
            raise ConnectionError
        return self.revision


def soon(true: Callable[[], bool]) -> bool:
    until = time.monotonic() + 5
    while not true() and time.monotonic() < until:
        time.sleep(0.01)
    return true()


def looking() -> bool:
    return any(thread.name == "looks for changes" for thread in threading.enumerate())


def no_more_threads(_: threading.Thread) -> None:
    """A fault made for the test, as where a process may have no more."""
    raise RuntimeError("can't start new thread")


def test_who_waits_hears_of_the_next_revision() -> None:
    ledger = Ledger()
    waiting = Waiting(1, ledger.look)
    with ThreadPoolExecutor(1) as threads:
        heard = threads.submit(waiting.until_moved, 1, 20)
        assert soon(lambda: ledger.looks > 1)
        assert not heard.done()
        ledger.revision = 2
        assert heard.result(timeout=5) is True


def test_what_moved_before_the_wait_is_heard_at_the_first_look() -> None:
    assert Waiting(1, Ledger().look).until_moved(0, 20) is True


def test_who_waits_in_vain_is_told_so() -> None:
    ledger = Ledger()
    assert Waiting(1, ledger.look).until_moved(1, 3 * PAUSE_SECONDS) is False
    assert ledger.looks >= 1


def test_a_look_from_before_the_wait_says_nothing() -> None:
    """Otherwise who has read something newer than the last look would be sent on at once, again and again."""
    ledger = Ledger()
    waiting = Waiting(2, ledger.look)
    assert waiting.until_moved(0, 20) is True
    ledger.revision = 2
    start = time.monotonic()
    assert waiting.until_moved(2, 3 * PAUSE_SECONDS) is False
    assert time.monotonic() - start >= 2 * PAUSE_SECONDS


def test_many_who_wait_are_looked_out_for_by_one() -> None:
    ledger = Ledger()
    waiting = Waiting(20, ledger.look)
    with ThreadPoolExecutor(20) as threads:
        heard = [threads.submit(waiting.until_moved, 1, 5 * PAUSE_SECONDS) for _ in range(20)]
        assert [one.result() for one in heard] == [False] * 20
    assert ledger.looks <= 7


def test_nobody_looks_when_nobody_waits() -> None:
    waiting = Waiting(1, Ledger().look)
    waiting.until_moved(0, 5)
    assert soon(lambda: not looking())
    assert waiting.until_moved(0, 5) is True


def test_there_are_so_many_places_and_no_more() -> None:
    waiting = Waiting(2, Ledger().look)
    with waiting.place() as first, waiting.place() as second, waiting.place() as third:
        assert (first, second, third) == (True, True, False)
    with waiting.place() as again:
        assert again is True


def test_a_database_that_does_not_answer_is_waited_out() -> None:
    ledger = Ledger()
    ledger.fails = True
    waiting = Waiting(1, ledger.look, (ConnectionError,))
    with ThreadPoolExecutor(1) as threads:
        heard = threads.submit(waiting.until_moved, 1, 20)
        assert soon(lambda: ledger.looks > 1)
        ledger.revision, ledger.fails = 2, False
        assert heard.result(timeout=5) is True


def test_where_no_thread_was_to_be_had_the_next_who_waits_is_looked_out_for(monkeypatch: pytest.MonkeyPatch) -> None:
    ledger = Ledger()
    waiting = Waiting(1, ledger.look)
    with monkeypatch.context() as short, pytest.raises(RuntimeError):
        short.setattr(threading.Thread, "start", no_more_threads)
        waiting.until_moved(1, 20)
    assert waiting.until_moved(0, 5) is True
    assert soon(lambda: not looking()), "who was refused does not wait"


def test_when_the_worker_ends_everybody_is_sent_away() -> None:
    ended = threading.Event()
    waiting = Waiting(1, Ledger().look)
    waiting.leave_when(ended.is_set)
    with ThreadPoolExecutor(1) as threads:
        heard = threads.submit(waiting.until_moved, 1, 60)
        assert soon(looking)
        ended.set()
        assert heard.result(timeout=5) is False
    assert waiting.until_moved(1, 60) is False
