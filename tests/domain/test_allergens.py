"""Allergens roll up; not declared is not none."""

from hypothesis import HealthCheck, given, settings

from service.domain.allergens import Allergens, allergens_of_all
from service.domain.breakdown import BreakdownInput
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.uses import Uses, uses_of
from tests.builders import a_breakdown, a_dish, a_kitchen, a_line, a_main, a_primal, a_recipe, an_ingredient
from tests.kitchens import kitchens


def rolled_up(kitchen: KitchenOnDay, kind: str, code: str) -> Allergens:
    return allergens_of_all(uses_of(kitchen), kitchen.ingredients)[kind, code]


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


def walked(key: Key, uses: Uses, kitchen: KitchenOnDay) -> tuple[set[str], set[str]]:
    """The rule told again: go down every way, and ask each ingredient."""
    if key[0] != "ingredient" and key not in uses:
        return set(), {key[1]}
    if key[0] == "ingredient":
        ingredient = kitchen.ingredients.get(key[1])
        known = ingredient is not None and ingredient.allergens is not None
        return (set(ingredient.allergens or ()), set()) if ingredient is not None and known else (set(), {key[1]})
    below = [walked(used, uses, kitchen) for used in uses[key]]
    return set().union(*(found for found, _ in below)), set().union(*(missing for _, missing in below))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(kitchens())
def test_one_pass_over_all_records_agrees_with_the_walk_below_each(kitchen: KitchenOnDay) -> None:
    uses = uses_of(kitchen)
    found = allergens_of_all(uses, kitchen.ingredients)

    for key in uses:
        declared, missing = walked(key, uses, kitchen)
        assert found[key] == Allergens(tuple(sorted(declared)), tuple(sorted(missing))), key
