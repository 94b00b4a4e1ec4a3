"""Workings that can be followed by hand: a published butcher's test, ties, versions of records, deep and wide menus."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from service.domain.breakdown import YieldsFrom
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.explanation import explain_cut, explain_dish
from service.domain.history import Mark, Version
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.working_sheet import as_text
from service.domain.working_tree import Explanation
from tests.adding_up import Document, every_step, faults_of
from tests.builders import (
    A_DAY,
    a_breakdown,
    a_by_product,
    a_conversion,
    a_dish,
    a_kitchen,
    a_line,
    a_loss,
    a_main,
    a_price,
    a_primal,
    a_recipe,
    a_topside_kitchen,
    a_yield_test,
    an_ingredient,
)
from tests.recorded import recorded


def dish_explained(kitchen: KitchenOnDay, code: str, known: Kitchen | None = None) -> Explanation:
    return explain_dish(code, known or recorded(kitchen), kitchen, cascade(compile_network(kitchen)))


def cut_explained(kitchen: KitchenOnDay, code: str) -> Explanation:
    return explain_cut(code, recorded(kitchen), kitchen, cascade(compile_network(kitchen)))


def figure(document: Document, name: str) -> Document:
    return next(figure for figure in document["figures"] if figure["figure"] == name)


def step(document: Document, what: str) -> Document:
    return next(step for step in every_step(document) if step["what"] == what)


def a_rib_of_beef() -> KitchenOnDay:
    """A butcher's test: pounds are written as kilograms, since every credit and cost is per unit of weight."""
    outputs = (a_main("oven-ready-rib", "0.5"), a_by_product("fat", "0.1", "0"), a_by_product("bones", "0.1", "0.32"),
               a_by_product("short-ribs", "0.1", "1.49"), a_by_product("chopped-beef", "0.1", "1.59"),
               a_loss("cutting-loss", "0.01"))
    weights = {"oven-ready-rib": "22", "fat": "6.5", "bones": "4.25", "short-ribs": "3.25", "chopped-beef": "2.5",
               "cutting-loss": "0.25"}
    breakdown = a_breakdown(*outputs, code="rib-trimmed", name="Rib, trimmed", yields_from=YieldsFrom.TESTS)
    return a_kitchen(a_primal(), a_price("3.19"), breakdown,
                     a_yield_test("38.75", weights, breakdown="rib-trimmed"))


def test_the_working_of_a_published_butchers_test() -> None:
    """Source: Dittmer & Keefe, Principles of Food, Beverage, and Labor Cost Controls, 9th ed., 2009, ch. 6, exercise 4:
    123.6125 less credits of 1.36, 4.8425 and 3.975 is 113.435 for 22 lb: 5.156 a lb, cost factor 1.616."""
    document = cut_explained(a_rib_of_beef(), "oven-ready-rib").as_document()
    assert faults_of(document) == []
    to_share = step(document, "Rib, trimmed: material to share")
    parts = {part["name"]: Fraction(part["carried"]) * Fraction("38.75") for part in to_share["in"]}
    expected = {"beef-topside: price": "123.6125", "bones: credit": "1.36", "short-ribs: credit": "4.8425",
                "chopped-beef: credit": "3.975"}
    assert {name: round(value, 6) for name, value in parts.items()} == {
        name: Fraction(value) for name, value in expected.items()}
    assert abs(Fraction(to_share["out"]["value"]) * Fraction("38.75") - Fraction("113.435")) < Fraction(1, 10**8)
    assert Fraction(figure(document, "material_cost_per_kg")["published"]) == Fraction("5.1561")
    assert Fraction(figure(document, "cost_factor")["published"]) == Fraction("1.6163")


def test_a_yield_is_told_test_by_test() -> None:
    document = cut_explained(a_rib_of_beef(), "oven-ready-rib").as_document()
    weighed = step(document, "oven-ready-rib: weighed in the tests")
    assert [(part["name"], part["carried"]) for part in weighed["in"]] == [("test 1-1 of 2026-01-05", "22")]
    assert weighed["record"]["tests"] == [{"test": "1-1", "tested_on": "2026-01-05"}]


def test_a_cost_just_below_a_tie_is_carried_far_enough_to_round_as_published() -> None:
    """0.00004 + 0.000001 x 9.999999 is 0.000049999999: with ten decimals alone it would look like the tie."""
    kitchen = a_kitchen(
        an_ingredient("salt"), a_price("0.00004", ingredient="salt"),
        an_ingredient("water"), a_price("0.000001", ingredient="water"),
        a_dish("brine", a_line("ingredient salt"), a_line("ingredient water", "9.999999")))
    document = dish_explained(kitchen, "brine").as_document()
    food_cost = figure(document, "food_cost")
    assert food_cost["published"] == "0.0000"
    assert food_cost["steps"][-1]["in"][0]["value"] == "0.0000500000"
    assert food_cost["steps"][-1]["in"][0]["carried"] == "0.000049999999"
    assert document["decimals_carried"] > 10
    assert faults_of(document) == []


def test_large_factors_are_carried_to_more_decimals_than_ten() -> None:
    """A third of a price, times 250 000: ten decimals of the third would be off by 8e-6."""
    kitchen = a_kitchen(an_ingredient("flour"), a_price("1", ingredient="flour", pack_quantity="3"),
                        a_dish("bread", a_line("ingredient flour", "250000"), portions="2"))
    document = dish_explained(kitchen, "bread").as_document()
    assert document["decimals_carried"] >= 16
    assert faults_of(document) == []
    assert step(document, "flour: price")["out"]["value"] == "0.3333333333"


def test_material_and_labour_stay_apart_down_to_the_rate() -> None:
    kitchen = a_topside_kitchen(a_dish("grilled-cap", a_line("cut topside-cap"), labour_minutes="6"))
    document = dish_explained(kitchen, "grilled-cap").as_document()
    material, labour = figure(document, "food_cost"), figure(document, "labour_cost")
    assert "minutes" not in {part["name"] for told in material["steps"] for part in told["in"]}
    rate = next(told for told in labour["steps"] if told["what"] == "Labour rate")
    assert rate["record"] | {"name": ""} == {
        "kind": "settings", "code": "settings", "name": "", "effective_from": None,
        "revision": recorded(kitchen).settings[0].made.revision}
    own = next(told for told in labour["steps"] if told["what"] == "grilled-cap: its own labour")
    assert own["out"]["value"] == "2.4000000000"


def test_a_price_names_its_supplier_its_start_and_why_it_decides() -> None:
    kitchen = a_kitchen(
        an_ingredient("shallot", preferred_supplier="holt"),
        a_price("2.50", ingredient="shallot", supplier="holt", made=Mark(7, 2), reference="List 12"),
        a_price("2.10", ingredient="shallot", supplier="fenmoor", made=Mark(8, 1)),
        a_dish("soup", a_line("ingredient shallot")))
    price = step(dish_explained(kitchen, "soup").as_document(), "shallot: price")
    assert price["record"] == {
        "kind": "price", "code": "shallot", "name": "shallot", "revision": 7, "effective_from": "2026-01-05",
        "price": "7-2", "supplier": "holt", "supplier_name": "holt", "amount": "2.50", "pack_quantity": "1",
        "pack_unit": "kg", "effective_to": None, "reference": "List 12"}
    assert price["note"] == "holt is the preferred supplier, as recorded in revision 3"


def test_a_step_names_the_version_that_is_in_force_on_the_day() -> None:
    kitchen = a_kitchen(an_ingredient(), a_price("2", ingredient="shallot"),
                        a_dish("soup", a_line("ingredient shallot")))
    soup, monday = kitchen.dishes["soup"], date(2026, 3, 9)
    dearer = replace(soup, portions=Decimal("0.5"))
    known = replace(recorded(kitchen), revision=99, dishes={
        "soup": (Version(soup, Mark(40, 1)), Version(dearer, Mark(41, 1), effective_from=monday))})
    before = dish_explained(known.on(A_DAY), "soup", known).as_document()
    after = dish_explained(known.on(monday), "soup", known).as_document()
    what = "soup: food cost of a portion"
    assert (before["revision"], step(before, what)["record"]["revision"], step(before, what)["record"]["effective_from"]
            ) == (99, 40, None)
    assert step(after, what)["record"] | {"name": ""} == {
        "kind": "dish", "code": "soup", "name": "", "revision": 41, "effective_from": "2026-03-09"}
    assert [figure(told, "food_cost")["published"] for told in (before, after)] == ["2.0000", "4.0000"]


def test_a_conversion_is_a_step_of_the_ingredient_told_once() -> None:
    kitchen = a_kitchen(
        an_ingredient("egg", conversions=(a_conversion("each", "55", "kg", "1000"),)), a_price("4", ingredient="egg"),
        a_dish("omelette", a_line("ingredient egg", "3", "each"), a_line("ingredient egg", "1", "dozen")))
    document = dish_explained(kitchen, "omelette").as_document()
    in_one = step(document, "egg: kg in one each")
    assert in_one["out"]["value"] == "0.0550000000"
    assert in_one["formula"] == "by its own conversion, 1000 each = 55 kg"
    assert in_one["record"]["kind"] == "ingredient"
    assert step(document, "Line 2, egg: material")["out"]["value"] == "2.6400000000"


def test_what_is_missing_is_told_where_it_arises_and_nothing_above_has_a_number() -> None:
    kitchen = a_kitchen(
        an_ingredient(), an_ingredient("butter"), a_price("9", ingredient="butter"),
        a_recipe("sauce", a_line("ingredient shallot")),
        a_dish("soup", a_line("recipe sauce", "1", "l"), a_line("ingredient butter", "0.1"), menu_price="9"))
    explanation = dish_explained(kitchen, "soup")
    document = explanation.as_document()
    assert {told["what"]: [gap["code"] for gap in told["gaps"]] for told in every_step(document) if told["gaps"]} == {
        "shallot: price": ["no_price"]}
    assert step(document, "Line 2, butter: material")["out"]["value"] == "0.9000000000"
    assert [figure(document, name)["published"] for name in ("food_cost", "gross_profit", "price_before_tax")] == [
        None, None, "7.5000"]
    assert "Not known: shallot has no price in force" in as_text(explanation)


def test_shared_recipes_are_told_once_so_that_the_working_stays_short() -> None:
    """Each of 18 sauces is made of the two before it: more than 2 000 ways down, 20 records."""
    sauces = [a_recipe("sauce-0", a_line("ingredient shallot")),
              a_recipe("sauce-1", a_line("recipe sauce-0", "1", "l"))]
    sauces += [a_recipe(f"sauce-{n}", *(a_line(f"recipe sauce-{n - below}", "0.5", "l") for below in (1, 2)))
               for n in range(2, 18)]
    kitchen = a_kitchen(an_ingredient(), a_price("2", ingredient="shallot"), *sauces,
                        a_dish("soup", a_line("recipe sauce-17", "1", "l")))
    explanation = dish_explained(kitchen, "soup")
    assert faults_of(explanation.as_document()) == []
    assert len(explanation.steps) < 100
    assert as_text(explanation).count("shallot: price = 2.0000000000") == 1


def test_a_chain_far_deeper_than_any_stack_is_explained() -> None:
    depth = 1_500
    sauces = [a_recipe("sauce-0", a_line("ingredient shallot"))]
    sauces += [a_recipe(f"sauce-{n}", a_line(f"recipe sauce-{n - 1}", "1", "l")) for n in range(1, depth)]
    kitchen = a_kitchen(an_ingredient(), a_price("2", ingredient="shallot"), *sauces,
                        a_dish("soup", a_line(f"recipe sauce-{depth - 1}", "1", "l")))
    explanation = dish_explained(kitchen, "soup")
    assert figure(json.loads(json.dumps(explanation.as_document())), "food_cost")["published"] == "2.0000"
    assert as_text(explanation).count("\n") > depth


def test_the_sheet_lines_numbers_up_on_their_decimal_points() -> None:
    grilled = a_line("cut topside-cap", "800", "g", cooking_yield_percent="75")
    kitchen = a_topside_kitchen(a_dish("grilled-cap", grilled))
    lines = as_text(dish_explained(kitchen, "grilled-cap")).splitlines()
    start = next(place for place, line in enumerate(lines) if "Line 1, topside-cap: material = " in line)
    numbers = lines[start + 2:start + 5]
    assert [line.split()[:2] for line in numbers] == [
        ["1066.6666666667", "quantity"], ["x", "0.001"], ["x", "16.9349715313"]]
    assert len({line.index(".") for line in numbers}) == 1
