"""The list of dishes comes from one sweep, each dish's own row from the exact cascade: they say the same."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings

from service.domain.compile import compile_network
from service.domain.kitchen import EMPTY, KitchenOnDay
from service.use_cases import cost_rows
from service.use_cases.cost_rows import dish_row, dish_rows, recipe_row, rows_of_today
from service.use_cases.menu_once import MenuOnce
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from tests.builders import a_dish, a_kitchen, a_line, a_price, a_recipe, an_ingredient
from tests.kitchens import kitchens
from tests.recorded import recorded

KITCHENS = settings(max_examples=80, deadline=None,
                    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def snapshot_of(kitchen: KitchenOnDay) -> Snapshot:
    network = compile_network(kitchen)
    return Snapshot(Position(7, "0" * 64, kitchen.day), EMPTY, kitchen, network, MenuOnce.of(network, kitchen))


@KITCHENS
@given(kitchens())
def test_a_swept_row_equals_the_dishs_own_row_in_every_member(kitchen: KitchenOnDay) -> None:
    snapshot = snapshot_of(kitchen)

    assert dish_rows(snapshot) == [dish_row(snapshot, code) for code in sorted(kitchen.dishes)]
    assert dish_rows(snapshot, costs_only=True) == [
        dish_row(snapshot, code, costs_only=True) for code in sorted(kitchen.dishes)]


def test_a_new_price_is_swept_over_the_lines_that_are_compiled() -> None:
    kitchen = a_kitchen(an_ingredient("shallot"), a_price("4.00", ingredient="shallot"),
                        a_dish("soup", a_line("ingredient shallot", "0.5")), day=date(2026, 11, 25))
    first = snapshot_of(kitchen)
    before = dish_rows(first)[0]["food_cost"]
    dearer = replace(kitchen, prices={"shallot": (a_price("5.00", ingredient="shallot"),)})

    network = compile_network(dearer)
    second = Snapshot(first.position, EMPTY, dearer, network, first.menu)

    assert (before, dish_rows(second)[0]["food_cost"]) == ("2.0000", "2.5000")
    assert second.menu.get() is first.menu.get()


def test_a_menu_that_nobody_has_compiled_yet_is_shared_by_all_that_differ_in_their_prices_alone() -> None:
    """Prices come by the second; who compiles the menu first compiles it for all that came meanwhile."""
    shallot = an_ingredient("shallot")
    kitchen = a_kitchen(shallot, a_price("4.00", ingredient="shallot"),
                        a_dish("soup", a_line("ingredient shallot", "0.5")), day=date(2026, 11, 25))
    first = Snapshot.of(Position(7, "0" * 64, kitchen.day), recorded(kitchen), None)
    dearer = replace(kitchen, prices={"shallot": (a_price("5.00", ingredient="shallot"),)})
    second = Snapshot.of(Position(8, "0" * 64, kitchen.day), recorded(dearer), first)
    larger = replace(dearer, dishes={"soup": a_dish("soup", a_line("ingredient shallot", "0.6"))})
    third = Snapshot.of(Position(9, "0" * 64, kitchen.day), recorded(larger), second)

    assert [dish_rows(each)[0]["food_cost"] for each in (third, second, first)] == ["3.0000", "2.5000", "2.0000"]
    assert second.menu.get() is first.menu.get()
    assert third.menu.get() is not first.menu.get()


def test_who_compares_two_menus_does_not_look_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """To look back costs each incomplete dish a cascade a day: the same rows, but for what a dish last cost."""
    looked_at: list[str] = []
    monkeypatch.setattr(cost_rows, "last_complete", lambda kitchen, code, day: looked_at.append(code))
    kitchen = a_kitchen(an_ingredient("shallot"), a_dish("soup", a_line("ingredient shallot", "0.5")),
                        a_dish("water"), day=date(2026, 11, 25))
    snapshot = snapshot_of(kitchen)

    assert [row["food_cost"] for row in rows_of_today(snapshot)] == [None, "0.0000"]
    assert looked_at == []
    assert dish_rows(snapshot) == rows_of_today(snapshot)
    assert looked_at == ["soup"]
    assert dish_rows(snapshot)[1] is rows_of_today(snapshot)[1]


def test_a_till_is_told_that_something_is_missing_and_never_what() -> None:
    snapshot = snapshot_of(a_kitchen(an_ingredient("secret-spice"), a_dish("soup", a_line("ingredient secret-spice"))))

    row = dish_row(snapshot, "soup", costs_only=True)

    assert row["gaps"] == [{"code": "no_price"}]
    assert row["food_cost"] is None
    assert "secret-spice" not in str(row)


def test_a_recipe_shows_of_each_line_what_goes_in_and_what_is_left_of_it() -> None:
    """Refuse of 10 %, as the USDA's tables give it for onions: a kilogram peeled takes a ninth more."""
    snapshot = snapshot_of(a_kitchen(
        an_ingredient("onion"), a_price("1.80", ingredient="onion"),
        a_recipe("confit", a_line("ingredient onion", "1", yield_percent="90"), a_line("recipe gone", "2", "l"))))

    onions, gone = recipe_row(snapshot, "confit")["lines"]

    assert (onions["ingredient"], onions["unit"]) == ("onion", "kg")
    assert (onions["edible_portion_quantity"], onions["as_purchased_quantity"]) == ("1.0000", "1.1111")
    assert (onions["cost"], gone["as_purchased_quantity"], gone["cost"]) == ("2.0000", "2.0000", None)
