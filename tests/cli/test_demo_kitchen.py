"""The demo kitchen is one that could be: it balances, it is whole, its figures are plausible, and it is invented.

Plain fractions judge it (see naive_kitchen), no code of the service's core. Topside: UNECE Standard Bovine Meat -
Carcases and Cuts, code 2000. That it seams into these five muscles is common practice; no published weight per muscle
is known, so the split is invented and has to say so.
"""

import re
from collections.abc import Iterator
from dataclasses import fields
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from service.cli.demo_kitchen import DemoRequest, about, demo_requests, next_monday
from service.domain.breakdown import Breakdown, Output
from service.domain.dish import Dish
from service.domain.ingredient import Ingredient
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price
from service.domain.recipe import Line, Recipe
from service.domain.supplier import Supplier
from service.domain.supplier_item import Pack, SupplierItem
from service.domain.yield_test import WeighedOutput, YieldTest
from tests.cli.naive_kitchen import NaiveKitchen, in_base, used_by

WEDNESDAY = date(2026, 11, 25)
REQUESTS = tuple(demo_requests(WEDNESDAY))
KITCHEN = NaiveKitchen.of_the_demo(WEDNESDAY)
BREAKDOWNS = KITCHEN.records["breakdowns"]
TESTS = [(code, test) for code, tests in KITCHEN.tests.items() for test in tests]
RECORDS = {"settings": KitchenSettings, "suppliers": Supplier, "ingredients": Ingredient, "breakdowns": Breakdown,
           "recipes": Recipe, "dishes": Dish, "prices": Price, "yield-tests": YieldTest, "items": SupplierItem}
PARTS = {("breakdowns", "outputs"): Output, ("yield-tests", "outputs"): WeighedOutput, ("recipes", "lines"): Line,
         ("dishes", "lines"): Line}


def resource(request: DemoRequest) -> str:
    """settings, ingredients, prices ...: the last plural of the path."""
    return next(part for part in reversed(request.path.split("/")) if part in RECORDS)


def everything_used() -> set[tuple[str, str]]:
    """Kind and code of all that recipes, dishes and breakdowns use."""
    records = [*KITCHEN.records["recipes"].values(), *KITCHEN.records["dishes"].values()]
    used = {used_by(line) for record in records for line in record["lines"]}
    return used | {used_by(breakdown["input"]) for breakdown in BREAKDOWNS.values()}


def texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from texts(each)
    elif isinstance(value, (list, tuple)):
        for each in value:
            yield from texts(each)


def test_requests_have_the_resources_shapes() -> None:
    for request in REQUESTS:
        kind = resource(request)
        assert request.method == ("POST" if kind in ("prices", "yield-tests") else "PUT")
        assert re.fullmatch(
            r"/v1/(settings|[a-z]+/[a-z0-9]+(-[a-z0-9]+)*(/prices|/yield-tests|/items/[A-Z0-9%-]+)?)", request.path)
        assert set(request.body) <= {known.name for known in fields(RECORDS[kind])}
        assert kind != "items" or set(request.body["pack"]) == {known.name for known in fields(Pack)}
        for (owner, member), part in PARTS.items():
            for each in request.body.get(member, ()) if owner == kind else ():
                assert set(each) <= {known.name for known in fields(part)}


def test_numbers_are_within_what_is_stored() -> None:
    bodies = [{name: value for name, value in request.body.items() if name != "gtin"} for request in REQUESTS]
    numbers = [text for body in bodies for text in texts(body) if re.fullmatch(r"[\d.]+", text)]
    assert len(numbers) > 500
    assert all(re.fullmatch(r"[0-9]{1,12}(\.[0-9]{1,6})?", number) for number in numbers)


def test_one_price_starts_on_the_monday_after_loading_and_no_other_date_moves() -> None:
    later = tuple(demo_requests(date(2027, 3, 8)))
    moved = [(now, then) for now, then in zip(REQUESTS, later, strict=True) if now != then]
    starts = [(now.body["effective_from"], then.body["effective_from"]) for now, then in moved]
    assert starts == [("2026-11-30", "2027-03-15")]
    dates = [text for request in REQUESTS for text in texts(request.body) if re.fullmatch(r"\d{4}-\d\d-\d\d", text)]
    assert [day for day in dates if not "2026-01-01" <= day <= "2026-10-31"] == ["2026-11-30"]


@pytest.mark.parametrize(("day", "monday"), [(29, 30), (30, 37), (24, 30)])
def test_next_monday_is_always_ahead(day: int, monday: int) -> None:
    assert next_monday(date(2026, 11, day)).toordinal() == date(2026, 11, 1).toordinal() + monday - 1


def test_everything_is_made_before_it_is_used() -> None:
    made: set[tuple[str, str]] = set()
    for request in REQUESTS:
        body, kind, parts = request.body, resource(request), request.path.split("/")
        used = [used_by(line) for line in body.get("lines", ())]
        used += [next(iter(body["input"].items()))] if kind == "breakdowns" else []
        used += [("supplier", body[name]) for name in ("supplier", "preferred_supplier") if name in body]
        used += [(parts[2][:-1], parts[3])] if len(parts) > 4 else []
        used += [("ingredient", body["ingredient"])] if kind == "items" else []
        assert set(used) <= made, f"{request.path} comes too early"
        made |= {(kind.removesuffix("s"), code) for code in parts[3:4]}
        made |= {("cut", output["cut"]) for output in body.get("outputs", ()) if kind == "breakdowns"
                 and output["role"] != "loss"}


def test_every_cut_finds_a_use() -> None:
    cuts = {output["cut"] for _, _, output in KITCHEN.makers() if output["role"] != "loss"}
    assert {code for kind, code in everything_used() if kind == "cut"} == cuts


def test_every_ingredient_and_recipe_finds_a_use() -> None:
    assert {code for kind, code in everything_used() if kind == "ingredient"} == set(KITCHEN.records["ingredients"])
    assert {code for kind, code in everything_used() if kind == "recipe"} == set(KITCHEN.records["recipes"])


@pytest.mark.parametrize(("code", "test"), TESTS, ids=[f"{code} {test['tested_on']}" for code, test in TESTS])
def test_a_yield_test_weighs_every_output_and_balances(code: str, test: dict[str, Any]) -> None:
    assert [output["cut"] for output in test["outputs"]] == [output["cut"] for output in BREAKDOWNS[code]["outputs"]]
    paid_for, weighed = Fraction(test["input_weight"]), sum(Fraction(output["weight"]) for output in test["outputs"])
    assert weighed <= Fraction(test.get("opened_weight", test["input_weight"])) <= paid_for
    assert (paid_for - weighed) / paid_for < Fraction(4, 100), "more is lost than purge and the knife explain"


def test_each_primal_has_six_tests_or_more_with_yields_near_the_plan() -> None:
    tested = [code for code, breakdown in BREAKDOWNS.items() if breakdown["yields_from"] == "tests"]
    assert {code for code, breakdown in BREAKDOWNS.items() if "ingredient" in breakdown["input"]} <= set(tested)
    for code in tested:
        assert len(KITCHEN.tests[code]) >= 6
        plan = {output["cut"]: Fraction(output["expected_yield"]) for output in BREAKDOWNS[code]["outputs"]}
        assert all(abs(found - plan[cut]) < Fraction(2, 100) for cut, found in KITCHEN.yields(code).items())


def test_declared_yields_leave_room_for_loss() -> None:
    for breakdown in BREAKDOWNS.values():
        total = sum(Fraction(output["expected_yield"]) for output in breakdown["outputs"])
        assert Fraction(95, 100) < total <= 1


def test_no_cut_is_made_twice() -> None:
    cuts = [output["cut"] for _, _, output in KITCHEN.makers()]
    assert len(cuts) == len(set(cuts))


def test_a_topside_gives_its_five_muscles_and_the_cap_is_broken_down_again() -> None:
    names = " ".join(output["name"] for output in BREAKDOWNS["topside-seamed"]["outputs"] if output["role"] == "main")
    muscles = {"gracilis", "semimembranosus", "adductor", "pectineus", "sartorius"}
    assert set(re.findall(r"M\. (\w+)", names)) == muscles
    topside = KITCHEN.records["ingredients"]["beef-topside"]
    assert {"scheme": "UNECE-BOVINE", "code": "2000"} in topside["standard_codes"]
    assert {"cut": "topside-cap"} in [breakdown["input"] for breakdown in BREAKDOWNS.values()]


def test_each_breakdown_says_that_it_is_invented_and_shows_its_cautions() -> None:
    assert "invented" in about().lower()
    for breakdown in BREAKDOWNS.values():
        steps = " ".join(breakdown["steps"])
        assert "invented" in breakdown["name"]
        assert "invented" in steps
        assert sum(step.startswith("Caution: ") for step in breakdown["steps"]) >= 1
        assert "Local codes" in steps
        assert "HACCP" in steps


def test_two_suppliers_price_the_topside_and_one_is_preferred() -> None:
    suppliers = {price["supplier"] for price in KITCHEN.prices["beef-topside"]}
    assert suppliers == {"fenmoor", "harrowick"} == set(KITCHEN.records["suppliers"])
    assert KITCHEN.records["ingredients"]["beef-topside"]["preferred_supplier"] == "fenmoor"
    undecided = [code for code, prices in KITCHEN.prices.items() if len({price["supplier"] for price in prices}) > 1
                 and "preferred_supplier" not in KITCHEN.records["ingredients"][code]]
    assert undecided == []


def test_a_handful_of_items_say_what_suppliers_call_things_in_the_packs_that_are_priced() -> None:
    """A pack holds what the price in force is for, or a price per kg needs none. GTINs are of the prefix that GS1 keeps
    for demonstrations and examples, 952 (from memory)."""
    items = [request.body for request in REQUESTS if resource(request) == "items"]
    assert len(items) == 10
    assert sum(bool(item["gtin"]) for item in items) == 3
    assert all(item["gtin"][:3] in ("", "952") for item in items)
    for item in items:
        held = Fraction(item["pack"]["count"]) * in_base(item["pack"]["quantity"], item["pack"]["unit"], *base_of(item))
        priced = {in_base(price["pack_quantity"], price["pack_unit"], *base_of(item))
                  for price in KITCHEN.prices[item["ingredient"]]}
        assert item["priced_per"] == "kg" or held in priced, item["name"]


def base_of(item: Any) -> tuple[str, Any]:
    """The base unit and the conversions of an item's ingredient."""
    ingredient = KITCHEN.records["ingredients"][item["ingredient"]]
    return ingredient["base_unit"], ingredient["conversions"]


def test_a_contract_runs_inside_an_open_price_and_rules_while_it_runs() -> None:
    before, during, after = (
        NaiveKitchen.of_the_demo(WEDNESDAY, day).unit_price("whole-chicken")
        for day in (date(2026, 5, 31), date(2026, 8, 31), date(2026, 9, 1)))
    assert during < before == after


def test_one_ingredient_has_not_declared_its_allergens() -> None:
    silent = [code for code, body in KITCHEN.records["ingredients"].items() if body.get("allergens") is None]
    assert len(silent) == 1
    listed = {"cereals-containing-gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "nuts",
              "celery", "mustard", "sesame-seeds", "sulphur-dioxide", "lupin", "molluscs"}
    # Regulation (EU) 1169/2011, annex II: fourteen
    assert {name for body in KITCHEN.records["ingredients"].values() for name in body.get("allergens", ())} <= listed


def test_recipes_stand_three_deep() -> None:
    assert max(KITCHEN.depth(code) for code in KITCHEN.records["recipes"]) >= 3
    assert KITCHEN.depth("mushroom-sauce") == 3


def test_twelve_dishes_cost_what_a_bistro_could_live_on_and_one_is_outside_its_target() -> None:
    percents = {code: KITCHEN.food_cost_percent(code) for code in KITCHEN.records["dishes"]}
    assert len(percents) == 12
    assert 18 <= min(percents.values()) < max(percents.values()) <= 38
    assert [code for code, percent in percents.items() if percent > KITCHEN.target(code)] == ["salmon-white-wine"]


def test_the_material_of_no_cut_costs_more_than_the_cut_would_to_buy() -> None:
    cuts = [output for _, _, output in KITCHEN.makers() if output["role"] in ("main", "trim")]
    dear = [cut["cut"] for cut in cuts if KITCHEN.cost_per_kg(cut["cut"]) > Fraction(cut["market_value"])]
    assert dear == []


@pytest.mark.parametrize("code", sorted(BREAKDOWNS))
def test_the_naive_judge_conserves_cost(code: str) -> None:
    breakdown, yields = BREAKDOWNS[code], KITCHEN.yields(code)
    carried = credited = disposed = Fraction(0)
    for output in breakdown["outputs"]:
        weight = yields[output["cut"]]
        if output["role"] == "loss":
            disposed += weight * Fraction(output["disposal_cost"])
        elif output["role"] == "by_product":
            credited += weight * Fraction(output["credit_value"])
        else:
            carried += weight * KITCHEN.cost_per_kg(output["cut"])
    (kind, source), = breakdown["input"].items()
    assert carried + credited == KITCHEN.cost(kind, source) + Fraction(breakdown["packaging_per_kg"]) + disposed


def test_monday_makes_the_salmon_dearer_and_leaves_the_beef() -> None:
    monday = NaiveKitchen.of_the_demo(WEDNESDAY, date(2026, 11, 30))
    assert monday.food_cost("salmon-white-wine") > KITCHEN.food_cost("salmon-white-wine")
    assert monday.food_cost("grilled-cap") == KITCHEN.food_cost("grilled-cap")
