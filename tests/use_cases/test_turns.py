"""Turns: one at a time a name, and nothing kept of names that nobody wants any more."""

import gc
import threading
from concurrent.futures import ThreadPoolExecutor

from service.use_cases.turns import Turns


def test_a_name_has_one_turn_while_somebody_has_it_or_waits_and_others_have_theirs() -> None:
    turns = Turns()
    mine = turns.of("board")
    assert turns.of("board") is mine
    assert turns.of("list") is not mine
    with mine, turns.of("board"), ThreadPoolExecutor(1) as pool:
        assert pool.submit(turns.of("board").acquire, blocking=False).result() is False
        assert pool.submit(turns.of("list").acquire, blocking=False).result() is True


def test_nothing_is_kept_of_a_name_that_nobody_wants() -> None:
    turns = Turns()
    for number in range(100):
        with turns.of(number):
            assert len(turns) == 1
    gc.collect()
    assert len(turns) == 0


def test_who_waits_keeps_the_turn_for_who_comes_after() -> None:
    """Each of many adds to a number and stores it a moment later: none is lost."""
    turns, sums = Turns(), {"board": 0, "list": 0}

    def add(name: str) -> None:
        with turns.of(name):
            found = sums[name]
            threading.Event().wait(0.0005)
            sums[name] = found + 1

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(add, ["board", "list"] * 150))
    assert sums == {"board": 150, "list": 150}
    assert len(turns) == 0
