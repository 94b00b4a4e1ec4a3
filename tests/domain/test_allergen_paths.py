"""By which way an allergen comes into a dish; what nobody has declared is unknown, never none.

Judges: the published lists, counted and spelt out; every way down, walked one by one, for the shortest.
"""

from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.allergen_lists import ALLERGENS, LISTS, NAMES, RELATED, lists_of
from service.domain.allergen_paths import AllergenState, DishAllergens, allergen_state, dish_allergens
from service.domain.allergens import allergens_of_all
from service.domain.breakdown import BreakdownInput
from service.domain.ingredient import Ingredient
from service.domain.network import Key
from service.domain.uses import Uses, uses_of
from tests.builders import a_breakdown, a_dish, a_kitchen, a_line, a_main, a_primal, a_recipe, an_ingredient

KITCHEN = a_kitchen(
    an_ingredient("butter", allergens=("milk",)), an_ingredient("cream", allergens=("milk",)),
    an_ingredient("flour", allergens=("wheat",)), an_ingredient("salt"), an_ingredient("spice-mix", allergens=None),
    a_primal("salmon", allergens=("fish",)),
    a_breakdown(a_main("side", "0.6"), code="filleted", input=BreakdownInput(ingredient="salmon")),
    a_breakdown(a_main("portion", "0.9"), code="portioned", input=BreakdownInput(cut="side")),
    a_recipe("roux", a_line("ingredient butter"), a_line("ingredient flour")),
    a_recipe("sauce", a_line("recipe roux", "1", "l"), a_line("ingredient salt"), a_line("ingredient cream", "1", "l")),
    a_dish("salmon-in-sauce", a_line("recipe sauce", "1", "l"), a_line("cut portion"), a_line("ingredient butter")),
    a_dish("curry", a_line("ingredient cream"), a_line("ingredient spice-mix")),
    a_dish("lost", a_line("recipe forgotten"), a_line("cut never-cut"), a_line("ingredient gone-off")),
    a_dish("chips", a_line("ingredient salt")))


def of(dish: str) -> DishAllergens:
    return dish_allergens(("dish", dish), uses_of(KITCHEN), KITCHEN.ingredients)


def test_the_lists_are_the_published_ones() -> None:
    """Regulation (EU) 1169/2011, annex II, entries 1 to 14 in its order; FALCPA section 203 and the FASTER Act: milk,
    egg, fish, crustacean shellfish, tree nuts, wheat, peanuts, soybeans, and since 2023 sesame."""
    european, american = LISTS
    assert sorted(european.allergens) == sorted((
        "cereals-containing-gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "nuts", "celery",
        "mustard", "sesame", "sulphur-dioxide", "lupin", "molluscs"))
    assert sorted(american.allergens) == sorted((
        "milk", "eggs", "fish", "crustaceans", "tree-nuts", "wheat", "peanuts", "soybeans", "sesame"))
    assert set(NAMES) == set(ALLERGENS) == {*european.allergens, *american.allergens}
    assert all("169/2011" in one.source or "Public Law" in one.source for one in LISTS)


def test_a_word_of_one_list_alone_is_related_to_one_of_the_other() -> None:
    assert lists_of("milk") == ("eu-annex-ii", "us-major")
    assert all(RELATED[RELATED[word]] == word and lists_of(word) != lists_of(RELATED[word]) for word in RELATED)
    assert {word for word in ALLERGENS if lists_of(word) == ("us-major",)} <= RELATED.keys()


def test_an_allergen_comes_with_every_ingredient_that_declares_it_and_the_shortest_way_to_each() -> None:
    """Butter is in the dish itself and in the roux of its sauce."""
    found = of("salmon-in-sauce")
    dish, sauce = ("dish", "salmon-in-sauce"), ("recipe", "sauce")
    assert found.brought_in["milk"] == ((dish, ("ingredient", "butter")), (dish, sauce, ("ingredient", "cream")))
    assert found.brought_in["wheat"] == ((dish, sauce, ("recipe", "roux"), ("ingredient", "flour")),)
    assert found.brought_in["eggs"] == ()


def test_a_cut_of_a_cut_leads_through_both_breakdowns_to_the_fish() -> None:
    assert of("salmon-in-sauce").brought_in["fish"] == ((
        ("dish", "salmon-in-sauce"), ("cut", "portion"), ("breakdown", "portioned"), ("cut", "side"),
        ("breakdown", "filleted"), ("ingredient", "salmon")),)


@pytest.mark.parametrize(("dish", "allergen", "state"), [
    ("salmon-in-sauce", "milk", "contains"), ("salmon-in-sauce", "eggs", "none_declared"),
    ("salmon-in-sauce", "cereals-containing-gluten", "related_declared"), ("curry", "milk", "contains"),
    ("curry", "celery", "unknown"), ("chips", "celery", "none_declared"), ("lost", "milk", "unknown")])
def test_what_nobody_has_declared_is_unknown_and_not_none(dish: str, allergen: str, state: str) -> None:
    assert of(dish).state(allergen) == state


def test_what_declares_nothing_is_named_with_the_way_to_it() -> None:
    assert of("curry").not_declared == ((("dish", "curry"), ("ingredient", "spice-mix")),)
    assert [way[-1] for way in of("lost").not_declared] == [
        ("cut", "never-cut"), ("ingredient", "gone-off"), ("recipe", "forgotten")]
    assert of("chips").not_declared == ()


@st.composite
def tangles(draw: st.DrawFn) -> tuple[Uses, dict[str, Ingredient]]:
    """Recipes that use each other any way round, loops included, and some of what they use is not there."""
    recipes = [("recipe", f"r{place}") for place in range(draw(st.integers(1, 6)))]
    bought = [("ingredient", f"i{place}") for place in range(4)]
    anything = st.sampled_from([*recipes, *bought, ("recipe", "gone")])
    uses: dict[Key, tuple[Key, ...]] = {
        key: tuple(draw(st.lists(anything, min_size=1, max_size=4, unique=True)))
        for key in [("dish", "d"), *recipes]}
    declared = st.sampled_from([None, (), ("milk",), ("milk", "wheat"), ("fish",)])
    return uses, {code: an_ingredient(code, allergens=draw(declared)) for _, code in bought[:3]}


def ways_down(key: Key, uses: Uses, trail: tuple[Key, ...] = ()) -> list[tuple[Key, ...]]:
    """Every way down that meets nothing twice."""
    here = (*trail, key)
    return [here, *(way for used in uses.get(key, ()) if used not in here for way in ways_down(used, uses, here))]


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tangles())
def test_an_allergen_is_told_if_and_only_if_something_within_reach_declares_it(
        tangle: tuple[Uses, dict[str, Ingredient]]) -> None:
    uses, ingredients = tangle
    found = dish_allergens(("dish", "d"), uses, ingredients)
    nearest: dict[Key, int] = {}
    for way in ways_down(("dish", "d"), uses):
        nearest[way[-1]] = min(len(way), nearest.get(way[-1], len(way)))
    says = {key: (None if key not in uses else ()) if key[0] != "ingredient"
            else ingredients[key[1]].allergens if key[1] in ingredients else None for key in nearest}
    for allergen, ways in found.brought_in.items():
        assert {way[-1]: len(way) for way in ways} == {
            key: length for key, length in nearest.items() if allergen in (says[key] or ())}
    assert {way[-1]: len(way) for way in found.not_declared} == {
        key: length for key, length in nearest.items() if says[key] is None}
    for way in [*found.not_declared, *(way for ways in found.brought_in.values() for way in ways)]:
        assert way[0] == ("dish", "d")
        assert all(below in uses[above] for above, below in pairwise(way))


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tangles())
def test_the_roll_up_of_all_records_says_the_same_as_the_ways_of_one_loops_included(
        tangle: tuple[Uses, dict[str, Ingredient]]) -> None:
    uses, ingredients = tangle
    everything = allergens_of_all(uses, ingredients)
    for key in uses:
        rolled, found = everything[key], dish_allergens(key, uses, ingredients)
        assert rolled.declared == tuple(allergen for allergen in ALLERGENS if found.brought_in[allergen])
        assert set(rolled.not_declared) == {way[-1][1] for way in found.not_declared}
        complete = not rolled.not_declared
        states = {allergen: allergen_state(allergen, rolled.declared, is_complete=complete) for allergen in ALLERGENS}
        assert states == {allergen: found.state(allergen) for allergen in ALLERGENS}
        assert (AllergenState.UNKNOWN in states.values()) == (not complete)
