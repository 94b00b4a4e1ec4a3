"""The chef looks at what guests chose: which dishes carry the menu, and which muscles nobody orders. On both engines.

Judge: the naive kitchen, in plain fractions; the csv module.
"""

import csv
import io
from datetime import timedelta
from fractions import Fraction
from math import ceil
from typing import Any

import pytest

from tests.stories.expected_figures import kitchen_on, rounded
from tests.stories.running_service import WEDNESDAY, Client, RunningService

MONDAY, TUESDAY = WEDNESDAY - timedelta(days=2), WEDNESDAY - timedelta(days=1)
PERIOD = f"from={MONDAY}&to={TUESDAY}"
SOLD = {MONDAY: {"1042": "30", "1044": "4", "beer": "40"}, TUESDAY: {"1042": "25", "1044": "-1", "1053": "6"}}
COVERS = {"grilled-cap": 57, "roast-topside": 3, "stuffed-chicken-leg": 8}
"""What was served of each: sold, and two comps of the cap and two staff meals of the leg."""
PAID = {"grilled-cap": 55, "roast-topside": 3, "stuffed-chicken-leg": 6}
Body = dict[str, Any]


@pytest.fixture(scope="module")
def chef(service: RunningService) -> Client:
    """A chef's key, once the till has sent two days."""
    till = service.client("sales:write")
    given = [{"pos_code": "1042", "quantity": "2", "kind": "comp"},
             {"pos_code": "1053", "quantity": "2", "kind": "staff_meal"}]
    for day, sold in SOLD.items():
        lines = [{"pos_code": code, "quantity": quantity, "net_takings": "10"} for code, quantity in sold.items()]
        sent = till.put(f"/v1/sales/{day}", {"lines": lines + given * (day == TUESDAY)})
        assert sent.status_code == 201, sent.text
    return service.client("read")


def balance(chef: Client, body: Body) -> Body:
    answer = chef.post("/v1/balance", body)
    assert answer.status_code == 200, answer.text
    told: Body = answer.json()
    return told


def before_tax(code: str) -> Fraction:
    kitchen = kitchen_on(TUESDAY)
    dish = kitchen.records["dishes"][code]
    tax = Fraction(dish.get("tax_rate_percent", kitchen.settings["default_tax_rate_percent"]))
    return Fraction(dish["menu_price"]) / (1 + tax / 100)


def test_the_matrix_is_of_what_was_paid_for_at_the_menu_s_prices(chef: Client) -> None:
    told = chef.read(f"/v1/menu-engineering?{PERIOD}")
    kitchen = kitchen_on(TUESDAY)
    left = {code: before_tax(code) - kitchen.food_cost(code) for code in kitchen.records["dishes"]}
    whole, covers = sum(PAID[code] * left[code] for code in PAID), sum(PAID.values())
    assert (told["covers"], told["dishes_counted"]) == (str(covers), len(left))
    assert told["contribution"] == rounded(Fraction(whole), 4)
    assert told["mean_contribution"] == rounded(whole / Fraction(covers), 4)
    assert told["popularity_line"] == rounded(Fraction(7, 10) * covers / len(left), 4)
    by_dish = {dish["dish"]: dish for dish in told["dishes"]}
    assert by_dish.keys() == left.keys()
    for code, dish in by_dish.items():
        popular = Fraction(PAID.get(code, 0)) * len(left) * 10 >= 7 * covers
        contributing = left[code] * covers >= whole
        assert (dish["covers"], dish["contribution"]) == (str(PAID.get(code, 0)), rounded(left[code], 4))
        assert (dish["popular"], dish["contributing"]) == (popular, contributing)
        assert dish["class"] == {(True, True): "star", (True, False): "plowhorse", (False, True): "puzzle"}.get(
            (popular, contributing), "dog")
    drinks, = told["pos_codes_without_dish"]
    assert (drinks["pos_code"], drinks["reason"], drinks["covers"]) == ("beer", "unknown", "40")


def test_the_matrix_is_polled_cheaply_read_as_a_table_and_found_again(chef: Client, service: RunningService) -> None:
    asked = f"/v1/menu-engineering?{PERIOD}&section=grill"
    first = chef.get(asked)
    assert {dish["section"] for dish in first.json()["dishes"]} == {"grill"}
    for client in service.clients_of_every_worker(chef).values():
        assert client.get(asked, if_none_match=first.headers["ETag"]).status_code == 304
    rows = list(csv.DictReader(io.StringIO(chef.get(asked, accept="text/csv").text, newline="")))
    assert [(row["dish"], row["contribution"], row["class"]) for row in rows] == [
        (dish["dish"], dish["contribution"], dish["class"]) for dish in first.json()["dishes"]]
    known_at = first.json()["revision"]
    corrected = service.client("sales:write").put(f"/v1/sales/{TUESDAY}", {"lines": []})
    assert corrected.status_code == 200, corrected.text
    again = chef.get(asked, if_none_match=first.headers["ETag"])
    assert (again.status_code, again.json()["covers"]) == (200, "30")
    assert chef.read(f"{asked}&known_at={known_at}") == first.json()


def test_covers_from_sales_are_all_that_was_served_and_nobody_ordered_the_big_muscle(chef: Client) -> None:
    """As known before the correction; the same covers given by hand balance the same."""
    known_at = chef.head_revision() - 1
    sold = balance(chef, {"known_at": known_at, "covers_from_sales": {"from": str(MONDAY), "to": str(TUESDAY)}})
    given = balance(chef, {"covers": [{"dish": code, "quantity": quantity} for code, quantity in COVERS.items()]})
    same = ("total", "dishes", "breakdowns", "ingredients", "findings")
    assert {name: sold[name] for name in same} == {name: given[name] for name in same}
    assert (sold["covers_from"], sold["sales_days"], sold["without_dish"]) == (
        "sales", 2, [{"pos_code": "beer", "quantity": "40"}])
    kitchen = kitchen_on(WEDNESDAY)
    food_cost = sum((COVERS[code] * kitchen.food_cost(code) for code in COVERS), Fraction(0))
    assert sold["total"]["food_cost"] == rounded(food_cost, 4)
    topside = next(each for each in sold["breakdowns"] if each["breakdown"] == "topside-seamed")
    cap = 57 * Fraction("0.8") / Fraction("0.75") / 4
    needed = cap / kitchen.yields("topside-seamed")["topside-cap"]
    tests = kitchen.tests["topside-seamed"]
    piece = sum(Fraction(test["input_weight"]) for test in tests) / sum(test.get("pieces", 1) for test in tests)
    assert (topside["binding"], topside["needed_input_kg"]) == (["topside-cap"], rounded(needed, 4))
    assert (topside["pieces"], topside["input_kg"]) == (ceil(needed / piece), rounded(ceil(needed / piece) * piece, 4))
    assert ("mostly_left_over", "topside-semimembranosus") in {
        (found["code"], found["record"]) for found in sold["findings"]}
    assert all(dish["within_target"] for dish in sold["dishes"] if dish["dish"] == "grilled-cap")


def test_what_is_paid_is_what_the_dishes_cost_and_what_is_left_over(chef: Client) -> None:
    """Published figures, each rounded once: they add up within the last digit of each."""
    told = balance(chef, {"covers": [{"dish": "grilled-cap", "quantity": "60"}]})
    total = {name: Fraction(value) for name, value in told["total"].items()}
    parts = total["food_cost"] + total["left_over_value"] + total["by_products_left_value"]
    assert abs(total["outlay"] - parts) <= Fraction("0.0002")
    assert total["outlay_percent"] > 3 * total["food_cost_percent"]
    for each in told["breakdowns"]:
        weights = sum(Fraction(each[name]) for name in ("used_kg", "left_kg", "loss_kg", "unaccounted_kg"))
        assert abs(weights - Fraction(each["input_kg"])) <= Fraction("0.0003")
