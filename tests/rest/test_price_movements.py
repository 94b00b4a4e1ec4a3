"""Price movements over HTTP: what moved, why, and that it adds up; as pages, as a table, and weighed by covers."""

import csv
import io
from collections import defaultdict
from decimal import Decimal
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.use_cases.keys import create_key
from tests.rest.small_kitchen import BUILDER, DISH, Body, Kitchen, a_use

START, END = "2026-03-01", "2026-03-31"
PATH = f"/v1/price-movements?from={START}&to={END}"
LIST_2 = "=List 2"


@pytest.fixture(scope="module")
def moved(kitchen: Kitchen) -> Kitchen:
    """Leg and egg are dearer from 9 March, by two revisions; of eggs a contract ends; a salad leaves the menu."""
    prices = (("leg", "9.60", "2026-01-05", None, ""), ("egg", "0.20", "2026-01-05", None, ""),
              ("egg", "0.18", "2026-02-01", "2026-03-19", "Spring contract"),
              ("leg", "10.15", "2026-03-09", None, LIST_2), ("egg", "0.23", "2026-03-09", None, LIST_2))
    for ingredient, amount, start, end, reference in prices:
        kitchen.keep(f"/v1/ingredients/{ingredient}/prices", {
            "supplier": "mill", "amount": amount, "pack_quantity": "1",
            "pack_unit": "kg" if ingredient == "leg" else "each", "effective_from": start, "effective_to": end,
            "reference": reference})
    kitchen.keep("/v1/dishes/omelette", DISH | {"name": "=Omelette", "portions": "1", "lines": [
        a_use("ingredient egg", "3", "each")]})
    kitchen.keep("/v1/dishes/salad", DISH | {"name": "Salad", "lines": [a_use("ingredient egg", "1", "each")],
                                             "effective_from": "2026-03-12"})
    return kitchen


def ask(kitchen: Kitchen, path: str, **headers: str) -> TestResponse:
    """Ask, and hold the answer to the API document."""
    answer: TestResponse = kitchen.client.get(path, headers=kitchen.headers | headers)
    kitchen.validator.check_answer("GET", path.partition("?")[0], answer.status_code, answer.content_type or "",
                                   answer.data)
    return answer


def weigh(kitchen: Kitchen, body: Body, **headers: str) -> TestResponse:
    answer: TestResponse = kitchen.client.post("/v1/price-movements", json=body, headers=kitchen.headers | headers)
    kitchen.validator.check_answer("POST", "/v1/price-movements", answer.status_code, answer.content_type or "",
                                   answer.data)
    return answer


def check_sums(told: Any) -> None:
    """Every dish, and the menu, to the digit; the shares are counted anew."""
    by_dish: defaultdict[str, Decimal] = defaultdict(Decimal)
    for ingredient in told["data"]:
        for each in ingredient["dishes"]:
            by_dish[each["dish"]] += Decimal(each["share"])
    menu: defaultdict[str, Decimal] = defaultdict(Decimal)
    for dish in told["dishes"]:
        if dish["status"] == "complete":
            parts = {name: Decimal(dish[name]) for name in ("shares_sum", "rounding", "other")}
            assert parts["shares_sum"] == by_dish[dish["dish"]]
            assert sum(parts.values()) == Decimal(dish["change"])
            assert Decimal(dish["food_cost_then"]) + Decimal(dish["change"]) == Decimal(dish["food_cost_now"])
            for name in (*parts, "change"):
                menu[name] += Decimal(dish[name]) * (1 if dish["covers"] is None else dish["covers"])
    assert {name: Decimal(told["menu"][name]) for name in menu} == menu
    assert sum(Decimal(each["menu_share"]) for each in told["data"]) == menu["shares_sum"]


def test_a_movement_is_told_by_ingredient_and_dish_and_adds_up(moved: Kitchen) -> None:
    told = ask(moved, PATH).json
    check_sums(told)
    assert (told["from"], told["to"], told["currency"], told["weights"]) == (START, END, "GBP", "equal")
    egg, leg = told["data"]
    assert (egg["unit_price_then"], egg["unit_price_now"], egg["change"], egg["change_percent"]) == (
        "0.1800", "0.2300", "0.0500", "27.78")
    assert (leg["unit_price_then"], leg["unit_price_now"], leg["base_unit"]) == ("9.6000", "10.1500", "kg")
    omelette = next(dish for dish in told["dishes"] if dish["dish"] == "omelette")
    assert (omelette["food_cost_then"], omelette["food_cost_now"], omelette["change"], omelette["rounding"]) == (
        "0.5400", "0.6900", "0.1500", "0.0000")
    assert {"dish": "omelette", "share": "0.1500"} in egg["dishes"]
    assert told["menu"]["dishes"] == 2


def test_a_cause_says_which_record_who_and_when(moved: Kitchen) -> None:
    egg, leg = ask(moved, PATH).json["data"]
    (ended,), (started,) = egg["causes"], leg["causes"]
    prices = moved.read("/v1/ingredients/egg/prices")["data"]
    contract = next(price for price in prices if price["amount"] == "0.18")
    assert (ended["kind"], ended["day"], ended["price"], ended["reference"], ended["revision"]) == (
        "price_ended", "2026-03-20", contract["id"], "Spring contract", contract["revision"])
    assert (ended["decided_before"], ended["decides"]) == (contract["id"], prices[0]["id"])
    assert (started["kind"], started["day"], started["reference"]) == ("price_started", "2026-03-09", LIST_2)
    assert (started["unit_price_before"], started["unit_price_after"], started["supplier"]) == (
        "9.6000", "10.1500", "mill")
    entry = next(each for each in moved.read("/v1/changes?limit=1000")["data"]
                 if each["revision"] == started["revision"])
    assert (started["who"], started["key_id"], started["made_at"]) == (entry["who"], entry["key_id"], entry["made_at"])
    assert (started["proposal"], started["file_name"]) == (None, None)


def test_a_dish_that_is_not_on_the_menu_on_one_day_is_listed_without_a_movement(moved: Kitchen) -> None:
    told = ask(moved, PATH).json
    salad = next(dish for dish in told["dishes"] if dish["dish"] == "salad")
    assert (salad["status"], salad["food_cost_then"], salad["change"]) == ("not_on_menu_then", None, None)
    assert salad["food_cost_now"] is not None
    assert told["menu"]["without_movement"] == 1


def test_pages_are_of_the_same_movements_and_the_dishes_are_on_the_first(moved: Kitchen) -> None:
    whole, first = ask(moved, PATH).json, ask(moved, f"{PATH}&limit=1")
    link = first.headers["Link"].partition(">")[0].lstrip("<")
    second = ask(moved, link)
    assert whole["next_cursor"] is None
    assert first.json["data"] + second.json["data"] == whole["data"]
    assert (first.json["dishes"], second.json["dishes"]) == (whole["dishes"], None)
    assert first.json["menu"] == second.json["menu"] == whole["menu"]
    assert second.json["next_cursor"] is None
    cursor = first.json["next_cursor"]
    assert ask(moved, f"{PATH.replace('03-31', '03-30')}&limit=1&cursor={cursor}").status_code == 422


def test_a_movement_has_a_tag_and_another_once_a_price_is_recorded(moved: Kitchen) -> None:
    tag = ask(moved, PATH).headers["ETag"]
    assert ask(moved, PATH, **{"If-None-Match": tag}).status_code == 304
    assert ask(moved, PATH.replace("03-01", "03-02")).headers["ETag"] != tag
    revision = ask(moved, PATH).json["revision"]
    moved.keep("/v1/ingredients/leg/prices", {"supplier": "mill", "amount": "9.99", "pack_quantity": "1",
                                              "pack_unit": "kg", "effective_from": "2026-03-20"})
    answer = ask(moved, PATH, **{"If-None-Match": tag})
    assert answer.status_code == 200
    check_sums(answer.json)
    assert [cause["day"] for cause in answer.json["data"][1]["causes"]] == ["2026-03-09", "2026-03-20"]
    as_before = ask(moved, f"{PATH}&known_at={revision}")
    assert as_before.json["data"][1]["unit_price_now"] == "10.1500"


def test_the_table_adds_up_by_dish_and_by_ingredient(moved: Kitchen) -> None:
    told, answer = ask(moved, PATH).json, ask(moved, PATH, Accept="text/csv")
    assert answer.content_type == "text/csv; charset=utf-8; header=present"
    assert f"price-movements-{START}-{END}.csv" in answer.headers["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text, newline=""), strict=True))
    by_dish: defaultdict[str, Decimal] = defaultdict(Decimal)
    by_ingredient: defaultdict[str, Decimal] = defaultdict(Decimal)
    for row in rows:
        by_dish[row["dish"]] += Decimal(row["share"])
        by_ingredient[row["ingredient"]] += Decimal(row["menu_share"])
    assert by_dish == {dish["dish"]: Decimal(dish["change"]) for dish in told["dishes"] if dish["change"] is not None}
    assert {code: share for code, share in by_ingredient.items() if code} == {
        each["ingredient"]: Decimal(each["menu_share"]) for each in told["data"]}
    assert {row["part"] for row in rows} <= {"ingredient", "rounding", "other"}
    assert {row["covers"] for row in rows} == {""}
    assert {row["dish_name"] for row in rows} == {"'=Omelette", "Soup"}


def test_covers_weigh_the_menu_and_nothing_is_stored(moved: Kitchen) -> None:
    head = moved.ledger.head()
    covers = [{"dish": "omelette", "covers": 120}, {"dish": "salad", "covers": 40}, {"dish": "soup", "covers": 0}]
    body = {"from": START, "to": END, "covers": covers}
    told = weigh(moved, body).json
    check_sums(told)
    assert told["weights"] == "covers"
    assert (told["menu"]["change"], told["menu"]["dishes"], told["menu"]["without_movement"]) == ("18.0000", 1, 1)
    assert [(dish["dish"], dish["covers"]) for dish in told["dishes"]] == [
        ("omelette", 120), ("salad", 40), ("soup", 0)]
    rows = list(csv.DictReader(io.StringIO(weigh(moved, body, Accept="text/csv").text, newline="")))
    assert sum(Decimal(row["menu_share"]) for row in rows) == 18
    assert {row["covers"] for row in rows} == {"120", "0"}
    equal = ask(moved, PATH).json["dishes"]
    assert [dish | {"covers": None} for dish in told["dishes"]] == equal
    assert moved.ledger.head() == head


def test_a_dish_with_covers_that_is_on_the_menu_on_neither_day_is_listed(moved: Kitchen) -> None:
    told = weigh(moved, {"from": "2026-02-10", "to": "2026-02-20", "covers": [{"dish": "salad", "covers": 9}]}).json
    salad = next(dish for dish in told["dishes"] if dish["dish"] == "salad")
    assert (salad["status"], salad["name"], salad["covers"], salad["change"]) == ("not_on_menu", "Salad", 9, None)
    assert told["menu"]["change"] == "0.0000"


@pytest.mark.parametrize(("query", "parameter"), [
    ("from=2026-03-01&to=2026-03-01", "from"), ("from=2026-03-02&to=2026-03-01", "from"),
    ("from=2025-01-01&to=2026-03-01", "from"), ("to=2026-03-01", "from"), ("from=2026-13-01", "from"),
    ("from=2026-03-01&to=tomorrow", "to"), ("from=2026-03-01&known_at=99999", "known_at"),
    ("from=2026-03-01&as_of=2026-03-31", "as_of"), ("from=2026-03-01&limit=0", "limit"),
    ("from=2026-03-01&cursor=AAAA", "cursor"), ("from=2999-12-31", "from")])
def test_a_span_that_cannot_be_is_refused_at_its_parameter(kitchen: Kitchen, query: str, parameter: str) -> None:
    answer = ask(kitchen, f"/v1/price-movements?{query}")
    assert answer.status_code == 422
    assert [error["parameter"] for error in answer.json["errors"]] == [parameter]
    assert len(answer.json["errors"][0]["detail"].split()) > 2


def test_four_hundred_days_are_told_and_no_more(kitchen: Kitchen) -> None:
    assert ask(kitchen, "/v1/price-movements?from=2025-02-24&to=2026-03-31").status_code == 200
    answer = ask(kitchen, "/v1/price-movements?from=2025-02-23&to=2026-03-31")
    assert answer.status_code == 422
    assert "401 days; at most 400" in answer.json["errors"][0]["detail"]


SOUP = {"dish": "soup", "covers": 1}


@pytest.mark.parametrize(("change", "pointers"), [
    ({"covers": [SOUP, {"dish": "no-such", "covers": 1}]}, ["#/covers/1/dish"]),
    ({"covers": [SOUP, SOUP]}, ["#/covers/1/dish"]),
    ({"covers": [{"dish": "soup", "covers": -1}]}, ["#/covers/0/covers"]),
    ({"covers": [{"dish": "soup", "covers": "9.5"}]}, ["#/covers/0/covers"]),
    ({"covers": [{"dish": "soup"}]}, ["#/covers/0/covers"]),
    ({"covers": []}, ["#/covers"]), ({"covers": None}, ["#/covers"]), ({"from": END}, ["#/from"]),
    ({"from": "2025-01-01"}, ["#/from"]), ({"known_at": 99_999}, ["#/known_at"]), ({"as_of": END}, ["#/as_of"])])
def test_covers_that_cannot_be_are_refused_at_their_field(kitchen: Kitchen, change: Body, pointers: list[str]) -> None:
    answer = weigh(kitchen, {"from": START, "to": END, "covers": [SOUP]} | change)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == pointers


def test_a_till_s_key_is_not_told_what_ingredients_cost(kitchen: Kitchen) -> None:
    key = create_key(kitchen.ledger, "till", ["costs:read"], None, BUILDER).document["key"]
    headers = {"Authorization": f"Bearer {key}"}
    assert kitchen.client.get(PATH, headers=headers).status_code == 403
    assert kitchen.client.post("/v1/price-movements", json={}, headers=headers).status_code == 403


def test_what_is_served_in_no_other_form_is_not_acceptable(kitchen: Kitchen) -> None:
    assert ask(kitchen, PATH, Accept="application/xml").status_code == 406
    assert weigh(kitchen, {"from": START, "covers": [SOUP]}, Accept="application/xml").status_code == 406
