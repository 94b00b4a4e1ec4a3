"""What the uncertainty of yields does to dishes, and what lost lean costs, over HTTP."""

from decimal import Decimal
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.use_cases.keys import create_key
from tests.rest.small_kitchen import BUILDER, DISH, SETTINGS, TEST, Body, Kitchen, a_use, an_output, with_change

UNCERTAIN, LEAN = "/v1/food-cost-uncertainty", "/v1/breakdowns/boned/lean-loss"


def a_test(meat: str, trim: str, skin: str, on: str) -> Body:
    weights = {"leg-meat": meat, "leg-trim": trim, "leg-skin": skin}
    return TEST | {"tested_on": on, "outputs": [{"cut": cut, "weight": weight} for cut, weight in weights.items()]}


@pytest.fixture(scope="module")
def tested(kitchen: Kitchen) -> Kitchen:
    """A leg with three tests in February, a dish of it, and one of eggs alone; eggs have a price too."""
    for ingredient, amount, unit in (("egg", "0.20", "each"), ("leg", "9.60", "kg")):
        kitchen.keep(f"/v1/ingredients/{ingredient}/prices", {
            "supplier": "mill", "amount": amount, "pack_quantity": "1", "pack_unit": unit,
            "effective_from": "2026-01-05"})
    for test in (a_test("5.0", "3.0", "1.2", "2026-02-10"), a_test("5.4", "2.5", "1.0", "2026-02-17")):
        kitchen.keep("/v1/breakdowns/boned/yield-tests", test)
    kitchen.keep("/v1/dishes/roast", DISH | {"lines": [a_use("cut leg-meat", "1.2")]})
    kitchen.keep("/v1/dishes/omelette", DISH | {"lines": [a_use("ingredient egg", "3", "each")]})
    return kitchen


def get(kitchen: Kitchen, path: str, **headers: str) -> TestResponse:
    """Ask, and hold the answer to the API document."""
    answer: TestResponse = kitchen.client.get(path, headers=kitchen.headers | headers)
    kitchen.validator.check_answer("GET", path.partition("?")[0], answer.status_code, answer.content_type or "",
                                   answer.data)
    return answer


def rows(kitchen: Kitchen, query: str = "") -> dict[str, Any]:
    answer = get(kitchen, f"{UNCERTAIN}{query}")
    assert answer.status_code == 200, answer.text
    return {row["dish"]: row for row in (answer.json or {})["data"]}


def test_a_dish_says_how_far_it_could_be_off_and_how_many_more_tests_would_do(tested: Kitchen) -> None:
    roast = rows(tested)["roast"]
    assert (roast["status"], roast["main_breakdown"], roast["degrees_of_freedom"]) == ("complete", "boned", 2)
    low, high = map(Decimal, roast["interval_95"])
    assert abs(high - low - 2 * Decimal(roast["half_width"])) <= Decimal("0.0002")
    assert roast["more_tests"] > 0
    assert roast["breakdowns"] == [{
        "breakdown": "boned", "name": "Leg, boned", "yield_basis": "tests", "tests": 3, "known": True,
        "standard_error": roast["standard_error"], "share_of_variance_percent": "100.00"}]
    assert rows(tested, "?within_percent=99")["roast"]["more_tests"] == 0


def test_a_dish_that_rests_on_no_yield_is_not_off_by_one(tested: Kitchen) -> None:
    omelette = rows(tested)["omelette"]
    assert (omelette["standard_error"], omelette["breakdowns"], omelette["more_tests"]) == ("0.0000", [], 0)


def test_before_a_second_test_it_is_not_known_which_is_not_nil(tested: Kitchen) -> None:
    roast = rows(tested, "?as_of=2026-02-09&dishes=roast")["roast"]
    assert (roast["status"], roast["standard_error"], roast["interval_95"], roast["more_tests"]) == (
        "not_known", None, None, None)
    assert roast["why_not"] == "yields_not_known"
    assert [(each["tests"], each["known"]) for each in roast["breakdowns"]] == [(1, False)]
    assert rows(tested, "?as_of=2026-01-09&dishes=roast")["roast"]["breakdowns"][0]["yield_basis"] == "declared"


def test_rows_are_chosen_by_dish_and_by_breakdown(tested: Kitchen) -> None:
    assert list(rows(tested, "?breakdown=boned")) == ["roast", "soup"]
    assert list(rows(tested, "?dishes=roast,gone,omelette")) == ["omelette", "roast"]
    assert rows(tested, "?breakdown=never-boned") == {}


def test_pages_make_up_the_whole(tested: Kitchen) -> None:
    first = get(tested, f"{UNCERTAIN}?limit=2").json or {}
    rest = get(tested, f"{UNCERTAIN}?limit=2&cursor={first['next_cursor']}").json or {}
    assert [*first["data"], *rest["data"]] == list(rows(tested).values())
    assert rest["next_cursor"] is None
    assert get(tested, f"{UNCERTAIN}?limit=2&within_percent=2&cursor={first['next_cursor']}").status_code == 422


@pytest.mark.parametrize("path", [UNCERTAIN, f"{LEAN}?input_kg_per_year=1000"])
def test_an_answer_has_a_tag_that_moves_with_what_it_rests_on(tested: Kitchen, path: str) -> None:
    before = get(tested, path)
    again = get(tested, path, **{"If-None-Match": before.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    known = tested.ledger.head().revision
    tested.keep("/v1/breakdowns/boned/yield-tests", a_test("5.1", "2.9", "1.1", "2026-02-24"))
    after = get(tested, path, **{"If-None-Match": before.headers["ETag"]})
    assert after.status_code == 200
    assert after.data != before.data
    joint = "&" if "?" in path else "?"
    assert (get(tested, f"{path}{joint}known_at={known}").json or {})["revision"] == known


@pytest.mark.parametrize("query", ["within_percent=0", "within_percent=101", "within_percent=1e9", "dishes=",
                                   "breakdown=No Such", "section=grill"])
def test_what_makes_no_sense_is_refused_by_name(tested: Kitchen, query: str) -> None:
    answer = get(tested, f"{UNCERTAIN}?{query}")
    assert (answer.status_code, (answer.json or {})["errors"][0]["parameter"]) == (422, query.partition("=")[0])


def test_a_point_of_lean_is_what_the_yields_say(tested: Kitchen) -> None:
    """By weight, at 9.60 a kg: the joint cost over all lean now, and over a point less of it."""
    answer = get(tested, f"{LEAN}?input_kg_per_year=5000&as_of=2026-02-20").json or {}
    lean = sum(map(Decimal, ("5.2", "2.9", "5.0", "3.0", "5.4", "2.5"))) / 30
    every = answer["all_lean"]
    now, then = (round(Decimal("9.60") / weight, 4) for weight in (lean, lean - Decimal("0.01")))
    assert (every["cost_per_kg"], every["cost_per_kg_after"]) == (str(now), str(then))
    assert answer["lost_kg_per_year"] == "50.0000"
    assert every["cost_per_year"] == str(round(50 * Decimal("9.60") / lean, 4))
    assert [(gap["code"], gap["record"]) for gap in every["gaps"]] == [
        ("missing_value", "leg-meat"), ("missing_value", "leg-trim")]
    assert (every["value_per_year"], every["market_value"]) == (None, None)
    assert [each["cut"] for each in answer["outputs"]] == ["leg-meat", "leg-trim"]
    assert answer["in_words"].startswith("Leg, boned: 1 percentage point of lean in the bin is 50 kg a year at 5000 kg")


def test_loss_up_while_trim_is_down_is_said_and_priced(tested: Kitchen) -> None:
    outputs = [an_output("hip-meat", market_value="20"),
               an_output("hip-dice", "trim", "0.2", market_value="12", finishing_cost="0.5"),
               an_output("hip-skin", "loss", "0.1", disposal_cost="0.3")]
    tested.keep("/v1/breakdowns/hipped", {"name": "Hip", "input": {"ingredient": "leg"}, "method": "market_value",
                                          "outputs": outputs})
    for day, (dice, skin) in enumerate((("2.00", "0.80"), ("2.02", "0.80"), ("1.80", "1.02"), ("1.82", "1.00")), 10):
        weights = {"hip-meat": "7.0", "hip-dice": dice, "hip-skin": skin}
        tested.keep("/v1/breakdowns/hipped/yield-tests", TEST | {
            "tested_on": f"2026-02-{day}", "outputs": [{"cut": c, "weight": w} for c, w in weights.items()]})
    answer = get(tested, "/v1/breakdowns/hipped/lean-loss?input_kg_per_year=1000&points=0.5").json or {}
    seen = answer["lean_into_the_bin"]
    assert "Loss up while trim is down is the sign that lean goes into the bin" in seen["text"]
    assert (seen["points"], seen["lost_kg_per_year"]) == ("2.00", "20.0000")
    assert seen["value_per_year"] == str(round(20 * (Decimal("11.5") + Decimal("0.3")), 4))
    dice = answer["outputs"][1]
    assert (dice["value_per_kg"], dice["value_per_year"]) == ("11.5000", "59.0000")


@pytest.mark.parametrize(("query", "wrong"), [
    ("", "input_kg_per_year"), ("input_kg_per_year=0", "input_kg_per_year"), ("input_kg_per_year=-5",
     "input_kg_per_year"), ("input_kg_per_year=5&points=0", "points"), ("input_kg_per_year=5&points=101", "points"),
    ("input_kg_per_year=many", "input_kg_per_year")])
def test_a_loss_that_makes_no_sense_is_refused_by_name(tested: Kitchen, query: str, wrong: str) -> None:
    answer = get(tested, f"{LEAN}?{query}")
    assert (answer.status_code, (answer.json or {})["errors"][0]["parameter"]) == (422, wrong)


def test_more_than_there_is_is_a_gap_and_a_breakdown_that_is_not_there_is_not_found(tested: Kitchen) -> None:
    answer = get(tested, f"{LEAN}?input_kg_per_year=5&points=60").json or {}
    assert "less_than_lost" in [gap["code"] for gap in answer["outputs"][0]["gaps"]]
    assert answer["outputs"][0]["yield_after"] is None
    missing = get(tested, "/v1/breakdowns/never/lean-loss?input_kg_per_year=5")
    assert (missing.status_code, missing.content_type) == (404, "application/problem+json")


def test_what_only_reads_costs_reads_neither(tested: Kitchen) -> None:
    key = create_key(tested.ledger, "till", ["costs:read"], None, BUILDER).document["key"]
    for path in (UNCERTAIN, f"{LEAN}?input_kg_per_year=5"):
        answer = get(tested, path, Authorization=f"Bearer {key}")
        assert (answer.status_code, (answer.json or {})["scope"]) == (403, "read")


def test_a_dish_without_a_food_cost_says_what_it_lacks(tested: Kitchen) -> None:
    tested.keep("/v1/ingredients/thyme", {"name": "Thyme", "kind": "herb", "base_unit": "kg"})
    body = with_change(DISH, lambda dish: dish["lines"].append(a_use("ingredient thyme", "0.01")))
    tested.keep("/v1/dishes/thyme-soup", body)
    row = rows(tested, "?dishes=thyme-soup")["thyme-soup"]
    assert (row["status"], row["food_cost"], row["why_not"]) == ("incomplete", None, "food_cost_not_known")
    assert [gap["code"] for gap in row["gaps"]] == ["no_price"]
    assert SETTINGS["currency"] == (get(tested, UNCERTAIN).json or {})["currency"]
