"""Allergens roll up; not declared is not none."""

from service.domain.allergens import Allergens, allergens_of
from service.domain.breakdown import BreakdownInput
from service.domain.kitchen import KitchenOnDay
from service.domain.uses import uses_of
from tests.builders import a_breakdown, a_dish, a_kitchen, a_line, a_main, a_primal, a_recipe, an_ingredient


def rolled_up(kitchen: KitchenOnDay, kind: str, code: str) -> Allergens:
    return allergens_of((kind, code), uses_of(kitchen), kitchen.ingredients)


KITCHEN = a_kitchen(
    an_ingredient("butter", allergens=("milk",)), an_ingredient("flour", allergens=("wheat",)),
    an_ingredient("salt"), an_ingredient("mustard", allergens=None), a_primal("salmon", allergens=("fish",)),
    a_breakdown(a_main("side", "0.6"), code="filleted", input=BreakdownInput(ingredient="salmon")),
    a_breakdown(a_main("portion", "0.9"), code="portioned", input=BreakdownInput(cut="side")),
    a_recipe("roux", a_line("ingredient butter"), a_line("ingredient flour")),
    a_recipe("sauce", a_line("recipe roux", "1", "l"), a_line("ingredient salt")),
    a_dish("salmon-in-sauce", a_line("cut portion"), a_line("recipe sauce", "1", "l")),
    a_dish("with-mustard", a_line("ingredient mustard"), a_line("ingredient butter")),
    a_dish("chips", a_line("ingredient salt")),
    a_dish("lost", a_line("recipe forgotten"), a_line("cut never-cut"), a_line("ingredient gone-off")))


def test_a_dish_holds_what_all_below_it_declares() -> None:
    assert rolled_up(KITCHEN, "dish", "salmon-in-sauce") == Allergens(("fish", "milk", "wheat"), ())


def test_a_cut_of_a_cut_holds_what_the_fish_declares() -> None:
    assert rolled_up(KITCHEN, "cut", "portion") == Allergens(("fish",), ())


def test_none_declared_is_told_apart_from_not_declared() -> None:
    assert rolled_up(KITCHEN, "dish", "chips") == Allergens((), ())
    assert rolled_up(KITCHEN, "dish", "with-mustard") == Allergens(("milk",), ("mustard",))


def test_of_what_does_not_stand_nobody_can_say() -> None:
    assert rolled_up(KITCHEN, "dish", "lost") == Allergens((), ("forgotten", "gone-off", "never-cut"))
