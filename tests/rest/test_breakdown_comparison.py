"""The comparison of a breakdown over HTTP: what is asked wrongly, and figures worked by hand. Leg at 9.60 a kg, boned:
0.5 meat, 0.3 trim, 0.1 skin, by tests 0.52, 0.29 and 0.11."""

from datetime import timedelta
from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.rest.small_kitchen import BREAKDOWN, DISH, Body, Kitchen, an_output

PATH = "/v1/breakdowns/boned/comparison"
USED = [{"cut": "leg-meat", "quantity_kg": "1.04"}]
MEAT, TRIM, SKIN = (an_output("leg-meat", market_value="15.00", finishing_cost="0.50", split_off_value="14.00"),
                    an_output("leg-trim", "trim", "0.3", market_value="6.00"),
                    an_output("leg-skin", "loss", "0.1", disposal_cost="0.20"))


@pytest.fixture(scope="module")
def boning(kitchen: Kitchen) -> Kitchen:
    """With values, an hour at 24.00, two minutes a kg, a second plan for the leg, and one for another joint."""
    kitchen.keep("/v1/settings", {"currency": "GBP", "labour_rate_per_hour": "24.00"})
    kitchen.keep("/v1/breakdowns/boned", BREAKDOWN | {"outputs": [MEAT, TRIM, SKIN], "labour_minutes_per_kg": "2"})
    kitchen.keep("/v1/breakdowns/whole", BREAKDOWN | {
        "in_use": False, "outputs": [an_output("leg-joint", expected_yield="0.9", market_value="11.00")]})
    kitchen.keep("/v1/breakdowns/diced", BREAKDOWN | {
        "input": {"cut": "leg-meat"}, "outputs": [an_output("leg-dice", expected_yield="0.98", market_value="16.00")]})
    return kitchen


def ask(kitchen: Kitchen, body: Body, path: str = PATH) -> TestResponse:
    """Ask, hold the answer to the API document, and see that nothing was written."""
    head = kitchen.ledger.head()
    answer: TestResponse = kitchen.client.post(path, json=body, headers=kitchen.headers)
    kitchen.validator.check_answer("POST", path, answer.status_code, answer.content_type or "", answer.data)
    assert kitchen.ledger.head() == head
    return answer


def told(kitchen: Kitchen, body: Body, path: str = PATH) -> Any:
    answer = ask(kitchen, body, path)
    assert answer.status_code == 200, answer.text
    return answer.json


def faults(answer: TestResponse) -> list[tuple[str, str]]:
    assert answer.status_code == 422, answer.text
    return [(error.get("pointer") or error["parameter"], error["code"]) for error in answer.json["errors"]]


def test_the_five_methods_share_one_cost_and_the_recorded_one_gives_the_cuts_own_figures(boning: Kitchen) -> None:
    """9.60 + 0.11 x 0.20 + 2 minutes + 0.52 x 0.50 are 10.682 per kg of leg."""
    methods = {method["method"]: method for method in boning.read(PATH)["methods"]}
    assert [method for method, under in methods.items() if under["in_force"]] == ["weight"]
    assert {under["cost_per_kg_of_input"] for name, under in methods.items() if name != "relative_value"} == {"10.6820"}
    assert [gap["record"] for gap in methods["relative_value"]["gaps"]] == ["leg-meat", "leg-trim"]
    for cut in methods["weight"]["cuts"]:
        figures = boning.read(f"/v1/cut-costs/{cut['cut']}")
        for name in ("cost_per_kg", "material_cost_per_kg", "labour_cost_per_kg", "share_of_joint_cost", "yield"):
            assert cut[name] == figures[name]
    assert [cut["dearer_than_buying"] for cut in methods["weight"]["cuts"]] == [False, True]


def test_breakdowns_of_the_same_input_stand_side_by_side_in_value_after_labour(boning: Kitchen) -> None:
    """0.52 x 15.00 + 0.29 x 6.00 = 9.54, less 0.022 for the skin, 0.26 for finishing and 0.80 for two minutes; against
    0.9 x 11.00 for the whole joint."""
    first, second = boning.read(PATH)["breakdowns"]
    assert (first["breakdown"], second["breakdown"], second["in_use"]) == ("boned", "whole", False)
    assert (first["cuts"], first["disposal"], first["finishing"], first["labour"], first["value_after_labour"]) == (
        "9.5400", "0.0220", "0.2600", "0.8000", "8.4580")
    assert (second["value_after_labour"], second["after_labour_against_the_first"]) == ("9.9000", "1.4420")
    assert (first["margin_after_labour"], second["margin_after_labour"]) == ("-1.1420", "0.3000")
    assert (second["gives_also"], second["does_not_give"]) == (["leg-joint"], ["leg-meat", "leg-trim"])


def test_what_is_used_of_two_kilograms_decides_whether_breaking_pays(boning: Kitchen) -> None:
    """1.04 kg of meat are 15.60; 2 kg of leg 19.20, finishing 0.52, skin 0.044, four minutes 1.60. Nobody uses the
    0.58 kg of trim, which would be 3.48."""
    compared = told(boning, {"input_kg": "2", "used": USED})["break_or_buy"]
    assert (compared["input_kg"], compared["buying"], compared["basis"]) == ("2.0000", "15.6000", "price")
    assert compared["with_labour"] == {
        "breaking": "21.3640", "saved": "-5.7640", "cheaper": "buying", "stops_paying_at": "6.7180"}
    assert compared["without_labour"] == {
        "breaking": "19.7640", "saved": "-4.1640", "cheaper": "buying", "stops_paying_at": "7.5180"}
    assert (compared["lost_to_what_is_not_used"], compared["not_used_kg"]) == ("3.4800", "0.5800")
    assert compared["gaps"] == []


def test_at_the_price_told_the_leg_pays_for_itself_exactly(boning: Kitchen) -> None:
    later = boning.ledger.today() + timedelta(days=60)
    asked = {"input_kg": "2", "used": USED, "as_of": f"{later}"}
    price = told(boning, asked)["break_or_buy"]["with_labour"]["stops_paying_at"]
    boning.keep("/v1/ingredients/leg/prices", {"supplier": "mill", "amount": price, "pack_quantity": "1",
                                               "pack_unit": "kg", "effective_from": f"{later}"})
    assert told(boning, asked)["break_or_buy"]["with_labour"] == {
        "breaking": "15.6000", "saved": "0.0000", "cheaper": "same", "stops_paying_at": price}
    today = told(boning, asked | {"as_of": f"{later - timedelta(days=1)}"})["break_or_buy"]["with_labour"]
    assert today["saved"] == "-5.7640", "another day has another price"


def test_pieces_weigh_what_the_tests_weighed(boning: Kitchen) -> None:
    compared = told(boning, {"pieces": 3, "used": USED})
    weight = boning.read("/v1/breakdowns/boned/cutting-sheet")["input_kg_per_piece"]
    assert (weight, compared["break_or_buy"]["input_kg"]) == ("10.0000", "30.0000")


def test_a_cut_that_is_broken_down_is_held_against_what_the_chain_to_it_costs(boning: Kitchen) -> None:
    compared = boning.read("/v1/breakdowns/diced/comparison")
    meat = boning.read("/v1/cut-costs/leg-meat")
    assert compared["input_cost"]["basis"] == compared["break_or_buy"]["basis"] == "cost_of_cut"
    assert compared["input_cost"]["cost_per_kg"] == meat["cost_per_kg"]


def test_whether_to_finish_leaves_out_what_was_paid(boning: Kitchen) -> None:
    """15.00 - 0.50 - 14.00 is 0.50 a kg."""
    (finishing,) = told(boning, {"input_kg": "2", "used": USED})["finishing"]
    assert (finishing["cut"], finishing["gain_per_kg"], finishing["gain"], finishing["worth_finishing"]) == (
        "leg-meat", "0.5000", "0.5200", True)


def test_what_the_cutting_sheet_says_can_be_used_and_a_ten_thousandth_more_is_refused(boning: Kitchen) -> None:
    there = told(boning, {"input_kg": "0.333333", "used": [{"cut": "leg-meat", "quantity_kg": "0"}]})
    most = there["break_or_buy"]["outputs"][0]["comes_off_kg"]
    taken = {"input_kg": "0.333333", "used": [{"cut": "leg-meat", "quantity_kg": most}]}
    assert told(boning, taken)["break_or_buy"]["outputs"][0]["not_used_kg"] == "0.0000"
    beyond = ask(boning, {"input_kg": "0.333333", "used": [{"cut": "leg-meat", "quantity_kg": "0.1734"}]})
    assert faults(beyond) == [("#/used/0/quantity_kg", "wrong-value")]
    assert beyond.json["errors"][0]["comes_off_kg"] == most == "0.1733"


def test_everything_that_is_wrong_with_what_is_used_is_told_each_at_its_field(boning: Kitchen) -> None:
    used = [{"cut": cut, "quantity_kg": "0.1"} for cut in ("leg-meat", "leg-horn", "leg-skin", "leg-meat")]
    assert faults(ask(boning, {"input_kg": "2", "used": used, "against": ["whole"]})) == [
        ("#/used/1/cut", "unknown-reference"), ("#/used/2/cut", "loss-cannot-be-used"),
        ("#/used/3/cut", "output-twice")]


@pytest.mark.parametrize(("body", "pointer"), [
    ({"used": USED}, "#"), ({"used": USED, "input_kg": "1", "pieces": 1}, "#"),
    ({"input_kg": "0", "used": USED}, "#/input_kg"), ({"pieces": 0, "used": USED}, "#/pieces"),
    ({"input_kg": "1"}, "#/used"), ({"input_kg": "1", "used": []}, "#/used"),
    ({"input_kg": "1", "used": [{"cut": "leg-meat", "quantity_kg": "-1"}]}, "#/used/0/quantity_kg"),
    ({"input_kg": "1", "used": USED, "against": ["diced"]}, "#/against/0"),
    ({"input_kg": "1", "used": USED, "against": ["nowhere"]}, "#/against/0"),
    ({"input_kg": "1", "used": USED, "known_at": 10**6}, "#/known_at")])
def test_a_question_that_makes_no_sense_is_refused_by_field(boning: Kitchen, body: Body, pointer: str) -> None:
    answer = ask(boning, body)
    assert [place for place, _ in faults(answer)] == [pointer]


def test_against_names_breakdowns_of_the_same_input_alone(boning: Kitchen) -> None:
    named_both = boning.read(f"{PATH}?against=boned,whole")["breakdowns"]
    assert [side["breakdown"] for side in named_both] == ["boned", "whole"]
    for named in ("diced", "nowhere"):
        answer = boning.client.get(f"{PATH}?against={named}", headers=boning.headers)
        boning.validator.check_answer("GET", PATH, answer.status_code, answer.content_type or "", answer.data)
        assert [place for place, _ in faults(answer)] == ["against"]


def test_a_piece_that_nobody_has_weighed_is_asked_for_in_kilograms(boning: Kitchen) -> None:
    boning.keep("/v1/ingredients/shin", {"name": "Shin", "kind": "primal", "base_unit": "kg"})
    boning.keep("/v1/breakdowns/shin-boned", BREAKDOWN | {
        "input": {"ingredient": "shin"}, "outputs": [an_output("shin-meat", expected_yield="0.5", market_value="9")]})
    used = [{"cut": "shin-meat", "quantity_kg": "0.5"}]
    path = "/v1/breakdowns/shin-boned/comparison"
    assert faults(ask(boning, {"pieces": 1, "used": used}, path)) == [("#/pieces", "wrong-value")]
    compared = told(boning, {"input_kg": "1", "used": used}, path)
    assert (compared["break_or_buy"]["with_labour"]["saved"], compared["break_or_buy"]["buying"]) == (None, "4.5000")
    assert [(gap["code"], gap["record"]) for gap in compared["break_or_buy"]["gaps"]] == [("no_price", "shin")]


@pytest.mark.parametrize("path", [PATH, "/v1/ingredients/leg/impact"])
def test_a_reader_who_has_it_is_told_that_nothing_changed_and_what_is_not_there_is_404(
    boning: Kitchen, path: str
) -> None:
    first = boning.client.get(path, headers=boning.headers)
    boning.validator.check_answer("GET", path, first.status_code, first.content_type or "", first.data)
    again = boning.client.get(path, headers=boning.headers | {"If-None-Match": first.headers["ETag"]})
    assert (first.status_code, again.status_code, again.data) == (200, 304, b"")
    early = boning.client.get(f"{path}?known_at=1", headers=boning.headers)
    assert early.status_code == 404, "at the first revision it was not recorded yet"
    assert boning.client.get(f"{path}?known_at=1000000", headers=boning.headers).status_code == 422


def test_an_ingredient_s_impact_counts_the_dishes_and_names_the_first_price_at_which_one_leaves(
    boning: Kitchen,
) -> None:
    """Half a litre of stock of half a kg of trim a litre: the soup, at 6.50, takes 0.125 kg of trim a portion."""
    boning.keep("/v1/dishes/soup", DISH | {"lines": DISH["lines"][:1]})
    impact = boning.read("/v1/ingredients/leg/impact")
    (soup,) = impact["dishes"]
    assert [step["code"] for step in soup["way"]] == ["leg", "boned", "leg-trim", "stock", "soup"]
    assert soup["one_more"]["food_cost"] == "0.1543", "0.125 / 0.81 kg of leg, by weight"
    assert impact["summary"] == {"dishes": 1, "within_target": 1, "outside_target": 0,
                                 "first_leaves_at": soup["leaves_at"]}
    assert [reached["recipe"] for reached in impact["recipes"]] == ["stock"]
    assert {reached["breakdown"]: reached["in_use"] for reached in impact["breakdowns"]} == {
        "boned": True, "whole": False, "diced": True}
