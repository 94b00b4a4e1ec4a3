"""When a dish crosses its target: held against a watcher that only remembers the last figure that was known."""

from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.target_crossing import Crossing, crossing

OUT, IN, UNKNOWN, AWAY = "out", "in", "unknown", "not on the menu"
WITHIN = {OUT: False, IN: True, UNKNOWN: None, AWAY: None}


def told(*days: str) -> list[Crossing | None]:
    """What each day crosses, from a dish that nobody knows yet."""
    outside, crossings = False, []
    for day in days:
        turn = crossing(outside, day != AWAY, WITHIN[day])
        crossings.append(turn)
        outside = turn is Crossing.OUTSIDE if turn is not None else outside
    return crossings


def test_out_and_back_are_told_once_each() -> None:
    assert told(IN, OUT, OUT, IN, IN, OUT) == [
        None, Crossing.OUTSIDE, None, Crossing.BACK_WITHIN, None, Crossing.OUTSIDE]


def test_a_first_figure_outside_its_target_crosses_it_and_one_within_does_not() -> None:
    assert told(OUT) == [Crossing.OUTSIDE]
    assert told(UNKNOWN, OUT) == [None, Crossing.OUTSIDE]
    assert told(IN, UNKNOWN) == [None, None]


def test_a_figure_that_is_not_known_in_between_crosses_nothing() -> None:
    assert told(OUT, UNKNOWN, OUT, UNKNOWN, IN) == [Crossing.OUTSIDE, None, None, None, Crossing.BACK_WITHIN]
    assert told(IN, UNKNOWN, IN) == [None, None, None]


def test_a_dish_that_leaves_the_menu_outside_its_target_is_outside_no_more_and_crosses_it_anew() -> None:
    assert told(OUT, AWAY, AWAY, OUT) == [Crossing.OUTSIDE, Crossing.LEFT_MENU, None, Crossing.OUTSIDE]
    assert told(OUT, UNKNOWN, AWAY) == [Crossing.OUTSIDE, None, Crossing.LEFT_MENU]
    assert told(IN, AWAY, IN) == [None, None, None]


@given(st.lists(st.sampled_from(sorted(WITHIN)), max_size=12))
@settings(max_examples=100)
def test_crossings_go_out_and_in_by_turns_and_end_where_the_last_known_figure_stands(days: list[str]) -> None:
    turns = [turn for turn in told(*days) if turn is not None]
    assert all(turn is Crossing.OUTSIDE for turn in turns[::2])
    assert Crossing.OUTSIDE not in turns[1::2]
    known = [day for day in days if day != UNKNOWN]
    assert (len(turns) % 2 == 1) == (known[-1:] == [OUT])
