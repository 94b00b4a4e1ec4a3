"""Targets of sections over HTTP: which dishes they hold for, from when, whose a target is, and what is refused."""

from datetime import timedelta
from typing import Any

import pytest

from tests.rest.small_kitchen import DISH, SETTINGS, Kitchen, a_use, refused

GRILL, COLD = {"section": "grill", "target_food_cost_percent": "28.5"}, {"section": "cold",
                                                                        "target_food_cost_percent": 35}


@pytest.fixture(scope="module")
def menu(kitchen: Kitchen) -> Kitchen:
    """Four plates of eggs that differ in their section and their own target alone: 2 eggs at 1.05 for 6.00 are 35 %."""
    kitchen.keep("/v1/ingredients/egg/prices", {"supplier": "mill", "amount": "1.05", "pack_quantity": "1",
                                                "pack_unit": "each"})
    for code, facts in (("plain", {}), ("grilled", {"section": "grill"}), ("chilled", {"section": "cold"}),
                        ("own", {"section": "cold", "target_food_cost_percent": "40"})):
        kitchen.keep(f"/v1/dishes/{code}", DISH | {
            "name": code, "portions": "1", "menu_price": "6", "lines": [a_use("ingredient egg", "2", "each")]} | facts)
    return kitchen


def targets(kitchen: Kitchen, query: str = "") -> dict[str, tuple[str, str, bool]]:
    """What the list says of each plate, which is what each of them says of itself."""
    rows = {row["dish"]: row for row in kitchen.read(f"/v1/dish-costs?limit=1000{query}")["data"]}
    for code, row in rows.items():
        assert kitchen.read(f"/v1/dish-costs/{code}?{query}") == row
    return {code: (row["target_food_cost_percent"], row["target_basis"], row["within_target"])
            for code, row in rows.items() if code != "soup"}


def test_a_target_of_a_section_holds_for_its_dishes_without_one_of_their_own_from_its_day_on(menu: Kitchen) -> None:
    start = menu.ledger.today() + timedelta(days=3)
    house: Any = ("30.00", "house", False)
    own: Any = ("40.00", "dish", True)
    menu.keep("/v1/settings", SETTINGS | {"section_targets": [GRILL, COLD], "effective_from": start.isoformat()})
    assert targets(menu) == {"plain": house, "grilled": house, "chilled": house, "own": own}
    later = {"plain": house, "grilled": ("28.50", "section", False), "chilled": ("35.00", "section", True), "own": own}
    assert targets(menu, f"&as_of={start}") == later
    told = menu.read(f"/v1/settings?as_of={start}")
    assert told["section_targets"] == [GRILL, COLD | {"target_food_cost_percent": "35"}]
    menu.keep("/v1/settings", SETTINGS | {"effective_from": start.isoformat()})
    assert menu.read(f"/v1/settings?as_of={start}")["section_targets"] == []
    assert set(targets(menu, f"&as_of={start}").values()) == {house, own}


def test_the_working_and_the_target_price_say_whose_target_it_is(menu: Kitchen) -> None:
    menu.keep("/v1/settings", SETTINGS | {"section_targets": [GRILL]})
    notes = {code: [step["note"] for figure in menu.read(f"/v1/dish-costs/{code}/working")["figures"]
                    for step in figure["steps"] if step["what"].startswith("Target food cost")]
             for code in ("plain", "grilled", "own")}
    assert notes == {"plain": ["the kitchen's setting"], "own": ["the dish's own target"],
                     "grilled": ["the kitchen's setting for the section grill"]}
    assert [menu.read(f"/v1/dish-costs/{code}")["target_menu_price"] for code in ("grilled", "plain")] == [
        "7.37", "7.00"]
    menu.keep("/v1/settings", SETTINGS)


@pytest.mark.parametrize(("wrong", "pointer"), [
    ([GRILL, COLD, GRILL], "#/section_targets/2/section"),
    ([GRILL, GRILL | {"section": " grill "}], "#/section_targets/1/section"),
    ([GRILL | {"target_food_cost_percent": "0"}], "#/section_targets/0/target_food_cost_percent"),
    ([GRILL | {"target_food_cost_percent": "1000.01"}], "#/section_targets/0/target_food_cost_percent"),
    ([GRILL | {"target_food_cost_percent": None}], "#/section_targets/0/target_food_cost_percent"),
    ([GRILL | {"section": ""}], "#/section_targets/0/section"),
    ([GRILL | {"section": "g" * 61}], "#/section_targets/0/section"),
    ([GRILL | {"sections": "x"}], "#/section_targets/0/sections"),
    ([{**GRILL, "section": f"s{place}"} for place in range(101)], "#/section_targets"),
    ({"grill": "28.5"}, "#/section_targets")])
def test_targets_that_make_no_sense_are_refused_by_field(menu: Kitchen, wrong: Any, pointer: str) -> None:
    refused(menu, "/v1/settings", SETTINGS | {"section_targets": wrong}, "wrong-value", pointer)


def test_a_target_needs_its_section_and_its_percent(menu: Kitchen) -> None:
    answer = menu.put("/v1/settings", SETTINGS | {"section_targets": [{}]})
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == [
        "#/section_targets/0/section", "#/section_targets/0/target_food_cost_percent"]
