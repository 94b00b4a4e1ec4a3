"""Which record uses which."""

from service.domain.uses import depth_first, reached_from, standing_on, users_of, uses_of
from tests.builders import a_dish, a_line, a_main, a_recipe, a_seamed_topside, a_topside_kitchen

KITCHEN = a_topside_kitchen(
    a_seamed_topside(a_main("whole-muscle", "0.9"), code="spare", in_use=False),
    a_recipe("ragu", a_line("cut topside-mince"), a_line("cut topside-mince"), a_line("ingredient wine")),
    a_dish("pasta", a_line("recipe ragu", "1", "l")), a_dish("steak", a_line("cut topside-cap")))


def test_a_cut_uses_the_breakdown_in_use_that_makes_it_and_that_its_input() -> None:
    uses = uses_of(KITCHEN)
    assert uses["cut", "topside-mince"] == (("breakdown", "topside-seamed"),)
    assert uses["breakdown", "topside-seamed"] == uses["breakdown", "spare"] == (("ingredient", "beef-topside"),)
    assert ("cut", "whole-muscle") not in uses
    assert ("cut", "topside-silverskin") not in uses


def test_what_is_used_twice_is_named_once_and_what_does_not_stand_is_named_too() -> None:
    assert uses_of(KITCHEN)["recipe", "ragu"] == (("cut", "topside-mince"), ("ingredient", "wine"))


def test_users_are_uses_the_other_way_round() -> None:
    uses = uses_of(KITCHEN)
    users = users_of(uses)
    assert {(user, used) for user, all_used in uses.items() for used in all_used} == {
        (user, used) for used, all_users in users.items() for user in all_users}


def test_what_stands_on_a_record_is_what_reaches_it() -> None:
    uses = uses_of(KITCHEN)
    on_topside = standing_on(uses, [("breakdown", "topside-seamed")])
    assert {("dish", "pasta"), ("dish", "steak"), ("recipe", "ragu"), ("cut", "topside-mince")} <= on_topside
    assert on_topside == reached_from(users_of(uses), [("breakdown", "topside-seamed")])


def test_what_is_used_comes_before_its_users_and_each_once() -> None:
    order = depth_first(uses_of(KITCHEN), [("dish", "pasta"), ("dish", "steak")])
    assert len(order) == len(set(order))
    assert order.index(("recipe", "ragu")) > order.index(("cut", "topside-mince")) > order.index(
        ("ingredient", "beef-topside"))
