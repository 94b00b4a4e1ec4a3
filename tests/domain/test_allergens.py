"""Allergens roll up: all that is declared below a record, and what declares nothing, which is not none."""

from hypothesis import HealthCheck, given, settings

from service.domain.allergens import Allergens, allergens_of, allergens_of_all
from service.domain.uses import uses_of
from tests.builders import a_dish, a_kitchen, a_line, a_primal, a_recipe, a_seamed_topside, an_ingredient
from tests.kitchens import kitchens

BUTTER = an_ingredient("butter", allergens=("milk",))
SPICES = an_ingredient("spices", allergens=None)


def test_a_dish_holds_what_its_recipes_and_cuts_bring_and_names_what_declares_nothing() -> None:
    kitchen = a_kitchen(
        a_primal(allergens=("sulphur-dioxide",)), a_seamed_topside(), BUTTER, SPICES,
        a_recipe("rub", a_line("ingredient spices"), a_line("ingredient butter")),
        a_dish("cap", a_line("cut topside-cap"), a_line("recipe rub", unit="l")), a_dish("water"))

    found = allergens_of_all(uses_of(kitchen), kitchen.ingredients)

    assert found["dish", "cap"] == Allergens(("milk", "sulphur-dioxide"), ("spices",))
    assert found["cut", "topside-cap"] == Allergens(("sulphur-dioxide",), ())
    assert found["dish", "water"] == Allergens((), ())


def test_what_does_not_stand_has_declared_nothing() -> None:
    kitchen = a_kitchen(a_dish("cap", a_line("ingredient unknown")))

    assert allergens_of_all(uses_of(kitchen), kitchen.ingredients)["dish", "cap"] == Allergens((), ("unknown",))


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None, max_examples=60)
@given(kitchens())
def test_the_pass_over_all_records_agrees_with_the_walk_below_each(kitchen: object) -> None:
    uses = uses_of(kitchen)  # type: ignore[arg-type]
    found = allergens_of_all(uses, kitchen.ingredients)  # type: ignore[attr-defined]

    assert {key: found[key] for key in uses} == {
        key: allergens_of(key, uses, kitchen.ingredients) for key in uses}  # type: ignore[attr-defined]
