"""What needs attention first: the order of the board, by the published figures of each dish."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from service.domain.attention import Attention, attention_of, attention_order, points_between

POINTS = st.decimals(-50, 50, places=2)
STANDING = st.tuples(st.sampled_from(Attention), POINTS | st.none(), POINTS | st.none(), st.text(max_size=5))


def named(*standing: tuple[Attention, str | None, str | None, str]) -> list[str]:
    """The names in order, of dishes given as (why, off target, moved, name)."""
    rows = [(why, off and Decimal(off), moved and Decimal(moved), name) for why, off, moved, name in standing]
    return [row[3] for row in sorted(rows, key=lambda row: attention_order(*row))]


def test_outside_comes_first_then_what_is_not_known_then_the_rest() -> None:
    assert named((Attention.WITHIN, "-0.01", "9.00", "pie"), (Attention.UNKNOWN, None, None, "toast"),
                 (Attention.OUTSIDE, "0.01", None, "cap")) == ["cap", "toast", "pie"]


def test_the_furthest_off_comes_first_and_of_two_equally_far_the_one_that_moved_more() -> None:
    assert named((Attention.OUTSIDE, "0.40", "3.00", "cap"), (Attention.OUTSIDE, "3.35", None, "roast"),
                 (Attention.OUTSIDE, "0.40", "4.00", "salad")) == ["roast", "salad", "cap"]


def test_within_target_a_rise_comes_before_little_room_and_a_fall_does_not() -> None:
    assert named((Attention.WITHIN, "-0.49", "0", "stir-fry"), (Attention.WITHIN, "-5.61", "3.22", "cold roast"),
                 (Attention.WITHIN, "-9.00", "-4.00", "leg")) == ["cold roast", "stir-fry", "leg"]


def test_a_dish_outside_is_so_also_where_its_labour_is_not_known() -> None:
    assert attention_of(False, complete=False) is Attention.OUTSIDE
    assert attention_of(True, complete=False) is Attention.UNKNOWN
    assert attention_of(None, complete=True) is Attention.UNKNOWN
    assert attention_of(True, complete=True) is Attention.WITHIN


def test_points_are_the_difference_of_the_published_percents() -> None:
    assert points_between("32.52", "30.00") == Decimal("2.52")
    assert points_between("29.51", "30.00") == Decimal("-0.49")
    assert points_between(None, "30.00") is None


@given(st.lists(STANDING, max_size=12))
def test_whatever_the_menu_no_dish_stands_before_one_that_is_further_outside(
        menu: list[tuple[Attention, Decimal | None, Decimal | None, str]]) -> None:
    ordered = sorted(menu, key=lambda row: attention_order(*row))
    outside = [row[1] or Decimal(0) for row in ordered if row[0] is Attention.OUTSIDE]
    assert outside == sorted(outside, reverse=True)
    assert [list(Attention).index(row[0]) for row in ordered] == sorted(list(Attention).index(row[0]) for row in menu)
