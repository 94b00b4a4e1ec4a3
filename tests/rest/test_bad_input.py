"""What bad input gets: a problem that names the field and says the mend, nothing written, and a service that goes on.

Here what is wrong by itself: numbers, units, text, JSON, media types, members. Whatever is refused must leave the head
where it was, and the good record must be taken afterwards.

Source: RFC 8259 and RFC 7493 (JSON, I-JSON), RFC 9110 section 15.5.16 (415), RFC 9457 (problem documents).
"""

import json
from typing import Any

import pytest

from tests.rest.small_kitchen import (
    BREAKDOWN,
    DISH,
    EGG,
    GOOD,
    ITEM,
    PRICE,
    RECIPE,
    SETTINGS,
    TEST,
    Body,
    Kitchen,
    a_use,
    refused,
    setting,
    with_change,
)

NUMBERS = [
    ("/v1/ingredients/leg/prices", PRICE, "#/amount"), ("/v1/ingredients/leg/prices", PRICE, "#/pack_quantity"),
    ("/v1/breakdowns/boned", BREAKDOWN, "#/outputs/0/expected_yield"),
    ("/v1/breakdowns/boned", BREAKDOWN, "#/labour_minutes_per_kg"),
    ("/v1/breakdowns/boned", BREAKDOWN, "#/packaging_per_kg"),
    ("/v1/breakdowns/boned", BREAKDOWN, "#/outputs/0/portion_weight_kg"),
    ("/v1/breakdowns/boned", BREAKDOWN, "#/outputs/2/disposal_cost"),
    ("/v1/breakdowns/boned", BREAKDOWN, "#/outputs/1/finishing_cost"),
    ("/v1/breakdowns/boned/yield-tests", TEST, "#/input_weight"),
    ("/v1/breakdowns/boned/yield-tests", TEST, "#/outputs/1/weight"),
    ("/v1/breakdowns/boned/yield-tests", TEST, "#/opened_weight"),
    ("/v1/recipes/stock", RECIPE, "#/makes_quantity"), ("/v1/recipes/stock", RECIPE, "#/lines/0/quantity"),
    ("/v1/recipes/stock", RECIPE, "#/lines/0/yield_percent"),
    ("/v1/recipes/stock", RECIPE, "#/lines/0/cooking_yield_percent"),
    ("/v1/recipes/stock", RECIPE, "#/labour_minutes"),
    ("/v1/dishes/soup", DISH, "#/portions"), ("/v1/dishes/soup", DISH, "#/menu_price"),
    ("/v1/dishes/soup", DISH, "#/allowance_percent"), ("/v1/dishes/soup", DISH, "#/tax_rate_percent"),
    ("/v1/dishes/soup", DISH, "#/target_food_cost_percent"), ("/v1/dishes/soup", DISH, "#/lines/1/quantity"),
    ("/v1/ingredients/egg", EGG, "#/conversions/0/to_quantity"),
    ("/v1/settings", SETTINGS, "#/labour_rate_per_hour"), ("/v1/settings", SETTINGS, "#/default_tax_rate_percent"),
    ("/v1/settings", SETTINGS, "#/price_step"), ("/v1/settings", SETTINGS, "#/scale_tolerance_percent"),
    ("/v1/settings", SETTINGS, "#/price_change_limit_percent"), ("/v1/settings", SETTINGS, "#/price_deviation_limit"),
    ("/v1/suppliers/mill/items/10%2F2", ITEM, "#/pack/count"),
    ("/v1/suppliers/mill/items/10%2F2", ITEM, "#/pack/quantity")]
ABSURD = ["-1", "1234567890123", "0.1234567", "1E400", "1e3", "NaN", "Infinity", "-Infinity", "1_000", "1,5", " 1",
          "+1", "٣", "３", "0x10", "", "nine", "9" * 10_000, "0." + "3" * 10_000, True, [], {}, ["1"]]


@pytest.mark.parametrize("value", ABSURD, ids=lambda value: repr(value)[:24])
@pytest.mark.parametrize(("path", "good", "pointer"), NUMBERS, ids=[f"{path[4:]} {at}" for path, _, at in NUMBERS])
def test_a_negative_or_absurd_number_is_refused_at_its_field(
    kitchen: Kitchen, path: str, good: Body, pointer: str, value: Any
) -> None:
    head = kitchen.ledger.head()
    told = kitchen.put(path, with_change(good, setting(pointer, value)))
    assert (told.status_code, [error["pointer"] for error in told.json["errors"]]) == (422, [pointer]), told.text
    assert len(told.data) < 2_000
    assert kitchen.ledger.head() == head


@pytest.mark.parametrize("step", ["0.005", "0.055"])
def test_a_price_step_that_no_menu_price_can_take_is_refused(kitchen: Kitchen, step: str) -> None:
    """ISO 4217: the pound has two decimals. A target price in finer steps would be rounded once more, below itself."""
    refused(kitchen, "/v1/settings", SETTINGS | {"price_step": step}, "wrong-value", "#/price_step")



@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1E400", "-1E400", "1E-400", "9" * 10_000,
                                    "1" * 4_301, "0." + "1" * 10_000, "-0.0000001", "-5"])
@pytest.mark.parametrize("path", ["/v1/ingredients/leg/prices", "/v1/dishes/soup"])
def test_a_bare_number_is_read_exactly_or_refused(kitchen: Kitchen, path: str, number: str) -> None:
    """NaN and Infinity are not JSON at all; the rest is JSON and no amount."""
    name = "amount" if path.endswith("prices") else "menu_price"
    text = json.dumps(GOOD[path] | {name: "HERE"}).replace('"HERE"', number)
    head = kitchen.ledger.head()
    answer = kitchen.send("POST" if path.endswith("prices") else "PUT", path, text.encode())
    assert answer.status_code == (400 if number.strip("-") in ("NaN", "Infinity") else 422)
    assert answer.json["errors"][0]["pointer"] == f"#/{name}"
    assert len(answer.data) < 2_000
    assert kitchen.ledger.head() == head


@pytest.mark.parametrize("zero", ["#/pack_quantity", "#/lines/0/yield_percent", "#/lines/0/quantity", "#/portions",
                                  "#/makes_quantity", "#/input_weight", "#/pack/count", "#/pack/quantity"])
def test_a_zero_that_something_is_divided_by_is_refused(kitchen: Kitchen, zero: str) -> None:
    path, good = next((path, good) for path, good, pointer in NUMBERS if pointer == zero)
    refused(kitchen, path, with_change(good, setting(zero, "0")), "wrong-value", zero)


@pytest.mark.parametrize("unit", ["cup", "KG", "stone", "", "kg ", 1, None])
@pytest.mark.parametrize(("path", "pointer"), [
    ("/v1/recipes/stock", "#/lines/0/unit"), ("/v1/recipes/stock", "#/makes_unit"),
    ("/v1/dishes/soup", "#/lines/1/unit"), ("/v1/ingredients/leg/prices", "#/pack_unit"),
    ("/v1/ingredients/egg", "#/conversions/0/unit"), ("/v1/suppliers/mill/items/10%2F2", "#/pack/unit"),
    ("/v1/breakdowns/boned/yield-tests", "#/unit")])
def test_an_unknown_unit_is_refused_and_the_units_are_listed(
    kitchen: Kitchen, path: str, pointer: str, unit: Any
) -> None:
    told = refused(kitchen, path, with_change(GOOD[path], setting(pointer, unit)), "wrong-value", pointer)
    if unit is not None:
        assert "kg, g, lb, oz" in told["errors"][0]["detail"]


@pytest.mark.parametrize(("path", "pointer", "unit"), [
    ("/v1/recipes/stock", "#/lines/0/unit", "l"), ("/v1/recipes/stock", "#/lines/0/unit", "each"),
    ("/v1/dishes/soup", "#/lines/0/unit", "kg"), ("/v1/dishes/soup", "#/lines/1/unit", "ml"),
    ("/v1/ingredients/leg/prices", "#/pack_unit", "each"), ("/v1/suppliers/mill/items/10%2F2", "#/pack/unit", "l"),
    ("/v1/suppliers/mill/items/10%2F2", "#/priced_per", "each")])
def test_a_missing_conversion_is_refused_naming_the_two_units(
    kitchen: Kitchen, path: str, pointer: str, unit: str
) -> None:
    told = refused(kitchen, path, with_change(GOOD[path], setting(pointer, unit)), "missing-conversion", pointer)
    (error,) = told["errors"]
    assert error["unit"] == unit
    assert f"{unit} does not convert into {error['to_unit']}" in error["detail"]


@pytest.mark.parametrize("conversions", [
    [{"unit": "kg", "to_quantity": "1000", "to_unit": "g"}],
    [{"unit": "each", "to_quantity": "1", "to_unit": "kg"}, {"unit": "dozen", "to_quantity": "9", "to_unit": "lb"}]])
def test_conversions_that_give_two_answers_are_refused(kitchen: Kitchen, conversions: list[Body]) -> None:
    refused(kitchen, "/v1/ingredients/egg", EGG | {"conversions": conversions}, "conversions-do-not-form-a-tree",
            "#/conversions")


def test_three_conversions_are_too_many(kitchen: Kitchen) -> None:
    three = [{"unit": "each", "to_quantity": "1", "to_unit": "kg"}, {"unit": "l", "to_quantity": "1", "to_unit": "kg"},
             {"unit": "l", "to_quantity": "1", "to_unit": "each"}]
    refused(kitchen, "/v1/ingredients/egg", EGG | {"conversions": three}, "wrong-value", "#/conversions")


def test_a_line_yield_of_zero_is_refused_and_one_above_a_hundred_is_not(kitchen: Kitchen) -> None:
    for name in ("yield_percent", "cooking_yield_percent"):
        lines = [a_use("ingredient egg", "1", "each", **{name: "0"})]
        refused(kitchen, "/v1/recipes/stock", RECIPE | {"lines": lines}, "wrong-value", f"#/lines/0/{name}")
    kitchen.keep("/v1/recipes/rice", RECIPE | {"lines": [a_use("ingredient egg", "1", "each",
                                                               cooking_yield_percent="280")]})


def test_a_price_in_another_currency_is_refused(kitchen: Kitchen) -> None:
    told = refused(kitchen, "/v1/ingredients/leg/prices", PRICE | {"currency": "EUR"}, "currency-differs", "#/currency")
    assert "GBP" in told["detail"]
    kitchen.keep("/v1/ingredients/leg/prices", PRICE | {"currency": "GBP"})


@pytest.mark.parametrize("currency", ["EUR", "XXQ", "gbp", "", "POUND"])
def test_the_kitchens_currency_is_one_of_iso_4217_and_stays_once_prices_are_recorded(
    kitchen: Kitchen, currency: str
) -> None:
    head = kitchen.ledger.head()
    answer = kitchen.put("/v1/settings", SETTINGS | {"currency": currency})
    assert (answer.status_code, {error["pointer"] for error in answer.json["errors"]}) == (422, {"#/currency"})
    assert kitchen.ledger.head() == head


@pytest.mark.parametrize("path", ["/v1/dishes/soup", "/v1/ingredients/leg/prices"])
def test_duplicate_names_are_refused_where_they_stand(kitchen: Kitchen, path: str) -> None:
    method = "POST" if path.endswith("prices") else "PUT"
    text = json.dumps(GOOD[path])
    pairs = [(text[:-1] + ', "name": "A", "name": "B"}', "#/name"),
             (text.replace('"quantity": "1"', '"quantity": "1", "quantity": "2"'), "#/lines/0/quantity"),
             (text.replace('"amount": ', '"amount": 1, "amount": '), "#/amount")]
    for doubled, pointer in pairs:
        if doubled != text:
            malformed(kitchen, method, path, doubled.encode(), pointer)


def malformed(kitchen: Kitchen, method: str, path: str, data: bytes, pointer: str) -> None:
    head = kitchen.ledger.head()
    answer = kitchen.send(method, path, data)
    assert (answer.status_code, answer.json["type"]) == (400, "/docs/problems/malformed-json"), answer.text
    assert pointer in [error["pointer"] for error in answer.json["errors"]]
    assert kitchen.ledger.head() == head
    kitchen.keep(path, GOOD[path])


@pytest.mark.parametrize("escape", [r"\u0000", r"\ud800", r"\udfff", r"\udc00\ud800", r"a\ud83d"])
@pytest.mark.parametrize("place", ["#/name", "#/lines/0/note", "name of a member"])
def test_nul_and_lone_surrogates_are_refused_where_they_stand(kitchen: Kitchen, escape: str, place: str) -> None:
    body = with_change(DISH, setting(place, "HERE")) if place.startswith("#") else DISH | {"HERE": "1"}
    malformed(kitchen, "PUT", "/v1/dishes/soup", json.dumps(body).replace("HERE", escape).encode(),
              place if place.startswith("#") else "#")


@pytest.mark.parametrize("data", [b"\xff\xfe", b'{"name": "\xed\xa0\x80"}', b'\xef\xbb\xbf{}', b"", b"{", b"{'a': 1}",
                                  b'{"a": 1,}', b"{} {}", b'{"a": "\x01"}'])
def test_what_is_not_json_in_utf_8_is_refused(kitchen: Kitchen, data: bytes) -> None:
    malformed(kitchen, "PUT", "/v1/dishes/soup", data, "#")


@pytest.mark.parametrize("opening", [b"[", b'{"a":', b'{"lines":[', b'{"name":['])
def test_nesting_10_000_deep_is_refused(kitchen: Kitchen, opening: bytes) -> None:
    malformed(kitchen, "PUT", "/v1/dishes/soup", opening * 10_000 + b"1", "#")
    closing = {b"[": b"]", b'{"a":': b"}", b'{"lines":[': b"]}", b'{"name":[': b"]}"}[opening]
    answer = kitchen.send("PUT", "/v1/dishes/soup", opening * 10_000 + b"1" + closing * 10_000)
    assert (answer.status_code, "nested" in answer.json["detail"]) == (400, True)


@pytest.mark.parametrize("body", [b"[]", b'"soup"', b"1", b"null", b"true"])
def test_a_body_that_is_no_object_is_refused(kitchen: Kitchen, body: bytes) -> None:
    answer = kitchen.send("PUT", "/v1/dishes/soup", body)
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "#")


@pytest.mark.parametrize("media_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data",
                                        "application/xml", "application/json; charset=utf-16", ""])
def test_a_wrong_media_type_is_refused_saying_which_is_read(kitchen: Kitchen, media_type: str) -> None:
    head = kitchen.ledger.head()
    answer = kitchen.send("PUT", "/v1/dishes/soup", json.dumps(DISH).encode(), media_type)
    assert (answer.status_code, answer.json["accepted"]) == (415, "application/json")
    assert kitchen.ledger.head() == head


def test_unknown_members_and_missing_ones_are_told_all_at_once(kitchen: Kitchen) -> None:
    body = {"nam": "Soup", "portions": "0", "lines": [{"cut": "leg-meat", "ingredient": "egg", "quantity": "x"}]}
    told = kitchen.put("/v1/dishes/soup", body)
    assert told.status_code == 422
    assert {error["pointer"] for error in told.json["errors"]} >= {
        "#/nam", "#/name", "#/portions", "#/lines/0/quantity", "#/lines/0/unit"}


@pytest.mark.parametrize(("asked", "faults"), [
    ("ingredients?limit=0&as_of=yesterday&colour=red",
     [("limit", "out-of-range"), ("as_of", "not-a-date"), ("colour", "unknown-parameter")]),
    ("price-movements?form=2026-03-01&to=soon",
     [("from", "required"), ("to", "not-a-date"), ("form", "unknown-parameter")]),
    ("price-movements?from=2026-03-01&from=2026-03-02&form=1",
     [("from", "repeated-parameter"), ("form", "unknown-parameter")]),
    ("dish-costs?codes=soup&codes=So_up,stew&fields=dish,colour&colour=red",
     [("codes", "not-a-code"), ("fields", "unknown-field"), ("colour", "unknown-parameter")]),
    ("workbook.xlsx?known_at=first&colour=red", [("known_at", "not-a-whole-number"), ("colour", "unknown-parameter")])])
def test_everything_that_is_wrong_with_a_query_is_told_at_once(
    kitchen: Kitchen, asked: str, faults: list[tuple[str, str]]
) -> None:
    answer = kitchen.send("GET", f"/v1/{asked}", b"")
    told = [(error["parameter"], error["code"]) for error in answer.json["errors"]]
    assert (answer.status_code, answer.json["type"]) == (422, "/docs/problems/refused")
    assert told == faults, "as the parameters are documented, and then what is none"


@pytest.mark.parametrize(("asked", "problem", "fault"), [
    ("ingredients?limit=0", "wrong-value", ("limit", "out-of-range")),
    ("ingredients?as_of=yesterday", "wrong-value", ("as_of", "not-a-date")),
    ("ingredients?colour=red", "unknown-parameter", ("colour", "unknown-parameter")),
    ("ingredients?limit=1&limit=0", "repeated-parameter", ("limit", "repeated-parameter")),
    ("price-movements", "wrong-value", ("from", "required"))])
def test_a_single_fault_of_a_query_keeps_its_own_problem(
    kitchen: Kitchen, asked: str, problem: str, fault: tuple[str, str]
) -> None:
    answer = kitchen.send("GET", f"/v1/{asked}", b"")
    (error,) = answer.json["errors"]
    assert (answer.json["type"], answer.json["detail"]) == (f"/docs/problems/{problem}", error["detail"])
    assert (answer.json["parameter"], (error["parameter"], error["code"])) == (error["parameter"], fault)


@pytest.mark.parametrize("code", ["Soup", "so_up", "-soup", "soup-", "so--up", "a" * 65, "changes", "s%C3%BCp",
                                  "so.up"])
def test_what_is_no_code_names_no_record(kitchen: Kitchen, code: str) -> None:
    head = kitchen.ledger.head()
    answer = kitchen.put(f"/v1/dishes/{code}", DISH)
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "code")
    assert kitchen.ledger.head() == head
