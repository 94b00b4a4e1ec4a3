"""The balance of a menu and menu engineering over HTTP, and what bad input of either gets."""

from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.rest.small_kitchen import BREAKDOWN, DISH, PRICE, Body, Kitchen, a_use

BALANCE, MATRIX = "/v1/balance", "/v1/menu-engineering"
SOUP = [{"dish": "soup", "quantity": "40"}]
A_DAY = {"from": "2026-03-02", "to": "2026-03-02"}


@pytest.fixture(scope="module")
def fed(kitchen: Kitchen) -> Kitchen:
    """Leg at 9.60, eggs without a price; a roast that is sold by the piece, and a pie that is no longer on the menu."""
    kitchen.keep("/v1/dishes/roast", DISH | {"name": "Roast", "section": "grill", "pos_code": "7", "lines": [
        a_use("cut leg-meat", "0.2")], "portions": "1"})
    kitchen.keep("/v1/dishes/pie", DISH | {"name": "Pie", "pos_code": "8", "lines": [a_use("cut leg-trim", "0.1")]})
    kitchen.keep("/v1/ingredients/leg/prices", PRICE | {"effective_from": "2026-01-05"})
    kitchen.keep("/v1/sales/2026-03-02", {"lines": [
        {"pos_code": code, "quantity": quantity, "net_takings": "9"}
        for code, quantity in (("7", "10"), ("8", "3"), ("wine", "2"))]})
    kitchen.retire("/v1/dishes/pie?effective_from=2026-03-05")
    return kitchen


def ask(kitchen: Kitchen, body: Body) -> TestResponse:
    answer: TestResponse = kitchen.client.post(BALANCE, json=body, headers=kitchen.headers)
    kitchen.validator.check_answer("POST", BALANCE, answer.status_code, answer.content_type or "", answer.data)
    return answer


def read(kitchen: Kitchen, query: str, **headers: str) -> TestResponse:
    answer: TestResponse = kitchen.client.get(f"{MATRIX}?{query}", headers=kitchen.headers | headers)
    kitchen.validator.check_answer("GET", MATRIX, answer.status_code, answer.content_type or "", answer.data)
    return answer


def test_what_was_served_is_balanced_and_what_no_dish_of_the_day_tells_is_apart(fed: Kitchen) -> None:
    """By hand: ten roasts of 0.2 kg at a yield of 5.2 / 10, as it was weighed in pieces of 10 kg."""
    told: Any = ask(fed, {"as_of": "2026-03-06", "covers_from_sales": A_DAY}).json
    assert [(dish["dish"], dish["quantity"]) for dish in told["dishes"]] == [("roast", "10")]
    assert told["not_on_menu"] == [{"dish": "pie", "quantity": "3"}]
    assert told["without_dish"] == [{"pos_code": "wine", "quantity": "2"}]
    leg, = told["breakdowns"]
    assert (leg["binding"], leg["needed_input_kg"], leg["pieces"], leg["input_kg"]) == (
        ["leg-meat"], "3.8462", 1, "10.0000")
    assert (told["status"], told["revision"]) == ("complete", fed.ledger.head().revision)
    by_weight: Any = ask(fed, {"as_of": "2026-03-06", "covers_from_sales": A_DAY, "whole_pieces": False}).json
    assert (by_weight["breakdowns"][0]["pieces"], by_weight["breakdowns"][0]["input_kg"]) == (None, "3.8462")


def test_a_price_that_is_missing_leaves_the_weights(fed: Kitchen) -> None:
    told: Any = ask(fed, {"covers": SOUP}).json
    assert (told["status"], [gap["record"] for gap in told["gaps"]]) == ("incomplete", ["egg"])
    assert (told["total"]["outlay"], told["total"]["food_cost"]) == (None, None)
    assert [(each["ingredient"], each["quantity"], each["cost"]) for each in told["ingredients"]] == [
        ("egg", "20.0000", None)]
    assert told["breakdowns"][0]["outputs"][1]["needed_kg"] == "5.0000"


def test_food_that_was_sold_under_a_code_that_tells_no_dish_leaves_the_balance_incomplete(fed: Kitchen) -> None:
    """A pie was rung up on the day after it left the menu: it was cooked, and of what nobody knows. Wine is no gap."""
    fed.keep("/v1/sales/2026-03-06", {"lines": [
        {"pos_code": code, "quantity": "4", "net_takings": "9"} for code in ("7", "8", "wine")]})
    told: Any = ask(fed, {"as_of": "2026-03-06", "covers_from_sales": {"from": "2026-03-06", "to": "2026-03-06"}}).json
    assert [each["pos_code"] for each in told["without_dish"]] == ["8", "wine"]
    assert (told["status"], [(gap["code"], gap["record"]) for gap in told["gaps"]]) == (
        "incomplete", [("pos_code_not_on_menu", "8")])
    assert told["total"]["outlay"] is not None


@pytest.mark.parametrize(("body", "pointers"), [
    ({}, ["#"]), ({"covers": SOUP, "covers_from_sales": A_DAY}, ["#"]), ({"covers": []}, ["#/covers"]),
    ({"covers": [{"dish": "moon", "quantity": "1"}]}, ["#/covers/0/dish"]),
    ({"covers": [*SOUP, *SOUP]}, ["#/covers/1/dish"]),
    ({"covers": [{"dish": "pie", "quantity": "1"}], "as_of": "2026-03-06"}, ["#/covers/0/dish"]),
    ({"covers": [{"dish": "soup", "quantity": "0"}]}, ["#/covers/0/quantity"]),
    ({"covers": [{"dish": "soup", "quantity": "-2"}]}, ["#/covers/0/quantity"]),
    ({"covers": [{"dish": "soup"}]}, ["#/covers/0/quantity"]),
    ({"covers_from_sales": {"from": "2026-03-03", "to": "2026-03-02"}}, ["#/covers_from_sales/from"]),
    ({"covers_from_sales": {"from": "2026-04-01", "to": "2026-04-02"}}, ["#/covers_from_sales"]),
    ({"covers": SOUP, "known_at": 9999}, ["#/known_at"]), ({"covers": SOUP, "whole_pieces": "no"}, ["#/whole_pieces"]),
    ({"covers": SOUP, "stock": []}, ["#/stock"])])
def test_covers_that_make_no_sense_are_refused_by_field(fed: Kitchen, body: Body, pointers: list[str]) -> None:
    answer = ask(fed, body)
    told: Any = answer.json
    assert answer.status_code == 422, answer.text
    assert [error["pointer"] for error in told["errors"]] == pointers, answer.text
    assert all(len(error["detail"].split()) > 2 for error in told["errors"])


def test_the_matrix_says_which_dishes_it_could_not_count(fed: Kitchen) -> None:
    told: Any = read(fed, "from=2026-03-01&to=2026-03-03").json
    assert [(dish["dish"], dish["covers"], dish["class"]) for dish in told["dishes"]] == [
        ("pie", "3", "puzzle"), ("roast", "10", "plowhorse")]
    assert [(dish["dish"], dish["reason"]) for dish in told["not_counted"]] == [("soup", "no_pos_code")]
    assert (told["sales_days"], told["covers"], told["popularity_line"]) == (1, "13", "4.5500")


@pytest.mark.parametrize(("query", "parameter"), [
    ("from=2026-03-03&to=2026-03-02", "from"), ("from=2024-01-01&to=2026-03-02", "from"),
    ("to=2026-03-02", "from"), ("from=2026-03-02", "to"),
    ("from=2026-03-02&to=2026-03-03&section=bakery", "section"),
    ("from=2026-03-02&to=2026-03-03&known_at=9999", "known_at"),
    ("from=2026-03-02&to=2026-03-03&sections=grill", "sections")])
def test_a_period_or_section_that_is_not_there_is_refused(fed: Kitchen, query: str, parameter: str) -> None:
    answer = read(fed, query)
    told: Any = answer.json
    assert answer.status_code in (400, 422), answer.text
    assert [error["parameter"] for error in told["errors"]] == [parameter]


def test_a_section_is_told_by_name_and_other_forms_are_not_served(fed: Kitchen) -> None:
    told: Any = read(fed, "from=2026-03-02&to=2026-03-02&section=grill").json
    assert (told["section"], [dish["dish"] for dish in told["dishes"]]) == ("grill", ["roast"])
    wrong: Any = read(fed, "from=2026-03-02&to=2026-03-02&section=bakery").json
    assert "'grill'" in wrong["detail"]
    assert read(fed, "from=2026-03-02&to=2026-03-02", Accept="image/png").status_code == 406


def test_a_breakdown_that_is_only_needed_for_its_bones_buys_nothing(fed: Kitchen) -> None:
    bones = {"cut": "leg-bones", "name": "Bones", "role": "by_product", "expected_yield": "0.05", "credit_value": "1"}
    fed.keep("/v1/breakdowns/boned", BREAKDOWN | {"outputs": [*BREAKDOWN["outputs"], bones]})
    fed.keep("/v1/dishes/broth", DISH | {"name": "Broth", "lines": [a_use("cut leg-bones", "0.5")], "portions": "1"})
    told: Any = ask(fed, {"covers": [{"dish": "broth", "quantity": "4"}]}).json
    leg, = told["breakdowns"]
    assert (leg["input_kg"], leg["binding"], leg["outputs"][-1]["short_kg"]) == ("0.0000", [], "2.0000")
    assert (told["total"]["short_value"], told["total"]["outlay"]) == ("2.0000", "2.0000")
    assert [found["code"] for found in told["findings"]] == ["by_product_short"]
