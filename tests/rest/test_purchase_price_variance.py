"""Purchase price variance over HTTP: what was bought against the prices in force on a chosen day."""

from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.rest.small_kitchen import Body, Kitchen
from tests.worked.sheets import sheet

PATH = "/v1/purchase-price-variance"
PUBLISHED = sheet("price_variance")


@pytest.fixture(scope="module")
def buying(kitchen: Kitchen) -> Kitchen:
    """Leg has cost 9.60 a kg since January and 10.15 since 9 March; two suppliers offer eggs and none is preferred."""
    kitchen.keep("/v1/suppliers/farm", {"name": "Farm"})
    for ingredient, supplier, amount, unit, start in (
            ("leg", "mill", "9.60", "kg", "2026-01-05"), ("leg", "mill", "10.15", "kg", "2026-03-09"),
            ("egg", "mill", "0.20", "each", "2026-01-05"), ("egg", "farm", "0.24", "each", "2026-03-01")):
        kitchen.keep(f"/v1/ingredients/{ingredient}/prices", {
            "supplier": supplier, "amount": amount, "pack_quantity": "1", "pack_unit": unit, "effective_from": start})
    return kitchen


def ask(kitchen: Kitchen, body: Body) -> TestResponse:
    """Ask, hold the answer to the API document, and see that nothing was written."""
    head = kitchen.ledger.head()
    answer: TestResponse = kitchen.client.post(PATH, json=body, headers=kitchen.headers)
    kitchen.validator.check_answer("POST", PATH, answer.status_code, answer.content_type or "", answer.data)
    assert kitchen.ledger.head() == head
    return answer


def told(kitchen: Kitchen, *purchases: Body, **more: Any) -> Any:
    answer = ask(kitchen, {"standard_on": "2026-02-01", "purchases": list(purchases)} | more)
    assert answer.status_code == 200, answer.text
    return answer.json


def test_what_was_paid_is_held_against_the_price_of_the_standard_s_day(buying: Kitchen) -> None:
    """40 lb are 18.1436948 kg, at 9.60 worth 174.1794..."""
    answer = told(buying, {"ingredient": "leg", "quantity": "40", "unit": "lb", "paid": "180.00"})
    (line,) = answer["purchases"]
    assert (line["base_quantity"], line["base_unit"], line["standard_unit_price"], line["actual_unit_price"]) == (
        "18.1437", "kg", "9.6000", "9.9208")
    assert (line["standard_cost"], line["actual_cost"], line["variance"], line["variance_percent"], line["effect"]) == (
        "174.1795", "180.0000", "5.8205", "3.34", "adverse")
    assert (answer["total"]["variance"], answer["total"]["status"]) == ("5.8205", "complete")


def test_a_purchase_without_what_was_paid_is_at_the_price_in_force_on_its_day(buying: Kitchen) -> None:
    purchase = {"ingredient": "leg", "quantity": "10", "unit": "kg", "on": "2026-03-09"}
    (line,) = told(buying, purchase)["purchases"]
    prices = buying.read("/v1/ingredients/leg/prices")["data"]
    ids = {price["amount"]: price["id"] for price in prices if price["effective_from"] < "2026-04"}
    assert (line["variance"], line["standard_price"], line["actual_price"], line["supplier"]) == (
        "5.5000", ids["9.6"], ids["10.15"], "mill")
    farm = {"ingredient": "egg", "quantity": "2", "unit": "dozen", "on": "2026-03-09", "supplier": "farm"}
    assert told(buying, farm)["purchases"][0]["variance"] == "0.9600"


def test_a_standard_that_is_missing_is_a_gap_and_the_total_says_so(buying: Kitchen) -> None:
    known = {"ingredient": "leg", "quantity": "10", "unit": "kg", "paid": "90"}
    answer = told(buying, known, {"ingredient": "egg", "quantity": "12", "unit": "each", "paid": "3"},
                  standard_on="2026-03-02")
    leg, egg = answer["purchases"]
    assert (leg["variance"], leg["effect"], leg["gaps"]) == ("-6.0000", "favourable", [])
    assert (egg["standard_unit_price"], egg["standard_cost"], egg["variance"], egg["effect"]) == (None,) * 4
    assert [(gap["code"], gap["record"]) for gap in egg["gaps"]] == [("no_preferred_supplier", "egg")]
    assert egg["actual_cost"] == "3.0000"
    total = answer["total"]
    assert (total["status"], total["variance"], total["actual_cost"], total["known_variance"]) == (
        "incomplete", None, "93.0000", "-6.0000")
    assert (total["purchases"], total["without_variance"]) == (2, 1)


def test_a_price_in_force_that_is_missing_is_a_gap_too(buying: Kitchen) -> None:
    purchases = [{"ingredient": "egg", "quantity": "1", "unit": "each", "on": "2026-02-10", "supplier": "farm"},
                 {"ingredient": "leg", "quantity": "1", "unit": "kg", "on": "2025-12-01"}]
    gaps = [line["gaps"] for line in told(buying, *purchases)["purchases"]]
    assert [[gap["code"] for gap in each] for each in gaps] == [["no_price"], ["no_price"]]
    assert "from farm" in gaps[0][0]["detail"]


@pytest.mark.parametrize("worked", PUBLISHED, ids=[str(place) for place in range(len(PUBLISHED))])
def test_published_examples_come_out(buying: Kitchen, worked: dict[str, str]) -> None:
    """Sources are in the sheet."""
    base = {"lb": "kg"}.get(worked["unit"], worked["unit"])
    code = f"material-{PUBLISHED.index(worked)}"
    buying.keep(f"/v1/ingredients/{code}", {"name": "Material", "kind": "dry", "base_unit": base})
    buying.keep(f"/v1/ingredients/{code}/prices", {
        "supplier": "mill", "amount": worked["standard_price_per_unit"], "pack_quantity": "1",
        "pack_unit": worked["unit"], "effective_from": "2026-01-01"})
    answer = told(buying, {"ingredient": code, "quantity": worked["quantity"], "unit": worked["unit"],
                           "paid": worked["paid"]})
    assert (answer["total"]["variance"], answer["total"]["effect"]) == (worked["variance"], worked["effect"])


def test_the_standard_is_as_known_at_a_revision(buying: Kitchen) -> None:
    purchase = {"ingredient": "leg", "quantity": "1", "unit": "kg", "paid": "9.60"}
    revision = buying.ledger.head().revision
    buying.keep("/v1/ingredients/leg/prices", {"supplier": "mill", "amount": "9.10", "pack_quantity": "1",
                                               "pack_unit": "kg", "effective_from": "2026-01-20"})
    assert told(buying, purchase)["total"]["variance"] == "0.5000"
    assert told(buying, purchase, known_at=revision)["total"]["variance"] == "0.0000"


LEG = {"ingredient": "leg", "quantity": "1", "unit": "kg", "paid": "9.60"}


WRONG = "wrong-value"


@pytest.mark.parametrize(("change", "field", "problem"), [
    ({"ingredient": "no-such"}, "ingredient", "unknown-reference"), ({"unit": "each"}, "unit", "missing-conversion"),
    ({"unit": "pinch"}, "unit", WRONG), ({"quantity": "0"}, "quantity", WRONG), ({"quantity": "-1"}, "quantity", WRONG),
    ({"paid": "1E4"}, "paid", WRONG), ({"paid": "-1"}, "paid", WRONG), ({"paid": None}, "paid", WRONG),
    ({"supplier": "no-such"}, "supplier", "unknown-reference"), ({"on": "2026-02-30"}, "on", WRONG),
    ({"price": "9"}, "price", WRONG)])
def test_a_purchase_that_cannot_be_is_refused_at_its_field(
    buying: Kitchen, change: Body, field: str, problem: str
) -> None:
    answer = ask(buying, {"standard_on": "2026-02-01", "purchases": [LEG, LEG | change]})
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == [f"#/purchases/1/{field}"]
    assert answer.json["type"] == f"/docs/problems/{problem}"


@pytest.mark.parametrize(("change", "pointer"), [
    ({"standard_on": None}, "#/standard_on"), ({"purchases": []}, "#/purchases"), ({"known_at": 10**9}, "#/known_at"),
    ({"purchases": [LEG] * 1001}, "#/purchases")])
def test_a_question_that_cannot_be_is_refused_at_its_field(buying: Kitchen, change: Body, pointer: str) -> None:
    answer = ask(buying, {"standard_on": "2026-02-01", "purchases": [LEG]} | change)
    assert (answer.status_code, [error["pointer"] for error in answer.json["errors"]]) == (422, [pointer])
