"""The judge of histories finds each fault that it is there for, and none where there is none."""

import random

import pytest

from tests.reliability.histories import Operation, judged


def read(begun: float, value: str, revision: int, client: str = "a", lasted: float = 1) -> Operation:
    return Operation(client, "r", begun, begun + lasted, "read", value, revision)


def written(begun: float, value: str, revision: int, base: int, client: str = "a", lasted: float = 1) -> Operation:
    return Operation(client, "r", begun, begun + lasted, "written", value, revision, base)


def unknown(begun: float, value: str, base: int) -> Operation:
    return Operation("b", "r", begun, begun + 1, "unknown", value, None, base)


def refused(begun: float, value: str) -> Operation:
    return Operation("b", "r", begun, begun + 1, "refused", value)


FAULTS = {
    "two on one base": ([written(0, "x", 2, 1), written(2, "y", 3, 1)], "lost update: x and y both on 1"),
    "a base that was not the last": (
        [written(0, "x", 2, 1), written(2, "y", 3, 2), written(4, "z", 4, 2)], "lost update: y and z both on 2"),
    "on what was overwritten": ([written(0, "x", 2, 1), written(2, "y", 5, 3)], "y is on 3, when 2 was there"),
    "an unknown write that explains nothing": (
        [unknown(0, "w", 1), written(0, "x", 2, 1), written(2, "y", 5, 3)], "y is on 3, when 2 was there"),
    "told the same revision": ([written(0, "x", 2, 1), written(2, "y", 2, 0)], "two at one revision"),
    "read before what was acknowledged": ([written(0, "x", 2, 1), read(2, "", 1)], "stale read"),
    "one client goes back": ([read(0, "", 3), read(2, "", 2)], "going backwards"),
    "another client goes back": ([read(0, "", 3, "a"), read(2, "", 2, "b")], "going backwards"),
    "nobody wrote it": ([read(0, "x", 2)], "phantom value: x at 2 was never written"),
    "at another revision": ([written(0, "x", 2, 1), read(2, "x", 3)], "phantom value: x at 3, written at 2"),
    "it was refused": ([refused(0, "x"), read(2, "x", 2)], "refused but applied"),
    "a later write is earlier": ([written(0, "x", 5, 1), written(2, "y", 3, 2)], "against real time"),
}


@pytest.mark.parametrize(("history", "fault"), FAULTS.values(), ids=FAULTS)
def test_each_fault_is_found(history: list[Operation], fault: str) -> None:
    assert any(fault in each for each in judged(history)), judged(history)


@pytest.mark.parametrize("history", [
    [written(0, "x", 2, 1), written(2, "y", 3, 2), read(4, "y", 3)],
    [written(0, "x", 2, 1, lasted=9), read(1, "x", 2), read(3, "x", 2)],
    [written(0, "x", 2, 1, lasted=9), read(1, "", 1), read(3, "x", 2)],
    [unknown(0, "x", 1), read(2, "x", 2), written(4, "y", 3, 2)],
    [refused(0, "x"), written(0, "y", 2, 1, "a"), read(2, "y", 2)],
    [written(0, "x", 2, 1), unknown(2, "y", 2), written(4, "z", 5, 3)],
])
def test_what_is_possible_is_let_be(history: list[Operation]) -> None:
    assert judged(history) == []


def test_a_long_history_is_possible_in_any_order_of_telling_and_one_late_read_in_it_is_not() -> None:
    history = [each for number in range(1_000) for each in (
        written(2 * number, f"v{number}", number + 2, number + 1, lasted=0.4),
        read(2 * number + 1, f"v{number}", number + 2, lasted=0.4))]
    random.Random(5).shuffle(history)
    assert judged(history) == []
    assert any("stale read" in each for each in judged([*history, read(1_500, "v0", 2)]))
