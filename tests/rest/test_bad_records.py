"""What bad input gets, where a record is wrong beside the others: loops, cuts made twice, weights that cannot be,
retired records, bounds. And what is never refused, because it depends on prices and values that move: gaps.

Whatever is refused must leave the head where it was, and the good record must be taken afterwards.
"""

from datetime import UTC, datetime, timedelta

import pytest

from service.domain.history import Version
from service.domain.ingredient import Ingredient
from service.domain.recipe import Recipe
from service.use_cases.documents import document
from service.use_cases.ports import Entry
from tests.builders import a_line, a_recipe
from tests.rest.small_kitchen import (
    BREAKDOWN,
    BUILDER,
    DISH,
    GOOD,
    INGREDIENT,
    PRICE,
    RECIPE,
    SUPPLIER,
    TEST,
    Body,
    Kitchen,
    a_use,
    an_output,
    refused,
    setting,
    with_change,
)

NEXT_YEAR = datetime.now(UTC).date() + timedelta(days=365)


def test_a_recipe_that_contains_itself_is_refused_with_the_loop(kitchen: Kitchen) -> None:
    told = refused(kitchen, "/v1/recipes/stock", RECIPE | {"lines": [a_use("recipe stock", "1", "l")]}, "recipe-loop",
                   "#/lines/0/recipe")
    assert [step["code"] for step in told["loop"]] == ["stock", "stock"]


def test_a_recipe_that_contains_itself_round_five_corners_is_refused_with_the_loop(kitchen: Kitchen) -> None:
    for number in range(2, 6):
        below = "recipe stock" if number == 2 else f"recipe round-{number - 1}"
        kitchen.keep(f"/v1/recipes/round-{number}", RECIPE | {"lines": [a_use(below, "1", "l")]})
    told = refused(kitchen, "/v1/recipes/stock", RECIPE | {"lines": [a_use("recipe round-5", "1", "l")]},
                   "recipe-loop", "#/lines/0/recipe")
    assert [step["code"] for step in told["loop"]] == ["stock", "round-5", "round-4", "round-3", "round-2", "stock"]


@pytest.mark.parametrize("in_use", [True, False])
def test_a_breakdown_that_contains_itself_is_refused_with_the_loop(kitchen: Kitchen, in_use: bool) -> None:
    own = {"name": "Own", "input": {"cut": "own"}, "outputs": [an_output("own")], "in_use": in_use}
    told = refused(kitchen, "/v1/breakdowns/own", own, "recipe-loop", "#/input/cut")
    assert [step["code"] for step in told["loop"]] == ["own", "own", "own"]


def test_a_breakdown_that_contains_itself_through_another_is_refused_with_the_loop(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/breakdowns/again", {"name": "Again", "input": {"cut": "leg-meat"},
                                          "outputs": [an_output("leg-dice")]})
    refused(kitchen, "/v1/breakdowns/boned", BREAKDOWN | {"input": {"cut": "leg-dice"}}, "recipe-loop", "#/input/cut")


def test_a_cut_made_by_two_breakdowns_in_use_is_refused(kitchen: Kitchen) -> None:
    """One that is scheduled is not taken over from: it says so, and from which day."""
    later = NEXT_YEAR.isoformat()
    kitchen.keep("/v1/breakdowns/later", {"name": "Later", "input": {"ingredient": "leg"}, "effective_from": later,
                                          "outputs": [an_output("leg-steak")]})
    told = refused(kitchen, "/v1/breakdowns/sooner", {
        "name": "Sooner", "input": {"ingredient": "leg"}, "outputs": [an_output("leg-end"), an_output("leg-steak")]},
        "cut-made-twice", "#/outputs/1/cut")
    assert later in told["detail"]
    assert "'later'" in told["detail"]


def test_an_output_listed_twice_is_refused(kitchen: Kitchen) -> None:
    outputs = [an_output("leg-meat"), an_output("leg-trim", "trim", "0.1"), an_output("leg-meat", "trim", "0.1")]
    refused(kitchen, "/v1/breakdowns/boned", BREAKDOWN | {"outputs": outputs}, "output-twice", "#/outputs/2/cut")


def test_a_test_that_leaves_an_output_out_is_refused_naming_it(kitchen: Kitchen) -> None:
    told = refused(kitchen, "/v1/breakdowns/boned/yield-tests", TEST | {"outputs": TEST["outputs"][:2]},
                   "output-not-weighed", "#/outputs")
    assert told["cuts"] == ["leg-skin"]


@pytest.mark.parametrize(("weight", "taken"), [("5.2", True), ("6.05", True), ("6.051", False)])
def test_a_test_may_outweigh_its_input_by_the_tolerance_of_half_a_percent(
    kitchen: Kitchen, weight: str, taken: bool
) -> None:
    """10 kg paid for: 10.05 kg of outputs are within, 10.051 are not."""
    test = with_change(TEST, setting("#/outputs/0/weight", weight))
    path = "/v1/breakdowns/boned/yield-tests"
    if taken:
        kitchen.keep(path, test)
    else:
        refused(kitchen, path, test, "outputs-outweigh-input", "#/outputs")


def test_a_test_of_another_list_of_outputs_or_of_tomorrow_is_refused(kitchen: Kitchen) -> None:
    path = "/v1/breakdowns/boned/yield-tests"
    refused(kitchen, path, with_change(TEST, setting("#/outputs/2/cut", "leg-tail")), "refused", "#/outputs/2/cut",
            "#/outputs")
    refused(kitchen, path, TEST | {"tested_on": NEXT_YEAR.isoformat()}, "wrong-value",
            "#/tested_on")


@pytest.mark.parametrize(("yields", "taken"), [(("0.5", "0.4", "0.1"), True), (("0.5", "0.4", "0.100001"), False)])
def test_declared_yields_come_to_one_at_most(kitchen: Kitchen, yields: tuple[str, ...], taken: bool) -> None:
    outputs = [output | {"expected_yield": value} for output, value in zip(BREAKDOWN["outputs"], yields, strict=True)]
    body = BREAKDOWN | {"outputs": outputs}
    if taken:
        kitchen.keep("/v1/breakdowns/boned", body)
    else:
        assert refused(kitchen, "/v1/breakdowns/boned", body, "yields-above-one", "#/outputs")["sum"] == "1.000001"


@pytest.mark.parametrize(("kind", "path", "body"), [
    ("ingredient", "/v1/ingredients/old", INGREDIENT), ("recipe", "/v1/recipes/old", RECIPE)])
def test_a_retired_record_used_again_is_refused(kitchen: Kitchen, kind: str, path: str, body: Body) -> None:
    kitchen.keep(path, body)
    kitchen.retire(path)
    line = a_use(f"{kind} old", "1", "kg" if kind == "ingredient" else "l")
    refused(kitchen, "/v1/dishes/soup", DISH | {"lines": [line]}, "retired-reference", f"#/lines/0/{kind}")
    kitchen.keep(path, body)
    kitchen.keep("/v1/dishes/revived", DISH | {"lines": [line]})


def test_retired_suppliers_primals_and_breakdowns_cannot_be_used_again(kitchen: Kitchen) -> None:
    for path, body in (("/v1/suppliers/gone", SUPPLIER), ("/v1/ingredients/gone", INGREDIENT),
                       ("/v1/breakdowns/gone", BREAKDOWN | {"outputs": [an_output("gone-meat")]})):
        kitchen.keep(path, body)
        kitchen.retire(path)
    refused(kitchen, "/v1/ingredients/leg/prices", PRICE | {"supplier": "gone"}, "retired-reference", "#/supplier")
    refused(kitchen, "/v1/ingredients/leg", INGREDIENT | {"preferred_supplier": "gone"}, "retired-reference",
            "#/preferred_supplier")
    refused(kitchen, "/v1/breakdowns/boned", BREAKDOWN | {"input": {"ingredient": "gone"}}, "retired-reference",
            "#/input/ingredient")
    refused(kitchen, "/v1/dishes/soup", DISH | {"lines": [a_use("cut gone-meat")]}, "unknown-reference",
            "#/lines/0/cut")
    assert kitchen.put("/v1/ingredients/gone/prices", PRICE).status_code == 404
    assert kitchen.put("/v1/breakdowns/gone/yield-tests", TEST).status_code == 404


def test_a_cut_that_nothing_makes_from_a_later_day_on_cannot_be_used(kitchen: Kitchen) -> None:
    leaving = BREAKDOWN | {"outputs": [an_output("leaving-meat")]}
    kitchen.keep("/v1/breakdowns/leaving", leaving)
    kitchen.keep("/v1/breakdowns/leaving", leaving | {"in_use": False, "effective_from": str(NEXT_YEAR)})
    line = a_use("cut leaving-meat")

    refused(kitchen, "/v1/dishes/soup", DISH | {"lines": [line]}, "retired-reference", "#/lines/0/cut")

    kitchen.keep("/v1/breakdowns/taking-over", leaving | {"effective_from": str(NEXT_YEAR)})
    kitchen.keep("/v1/dishes/soup", DISH | {"lines": [line]})


def test_a_take_over_that_ends_before_a_use_of_its_cuts_does_is_refused(kitchen: Kitchen) -> None:
    taking_over = BREAKDOWN | {"name": "Leg, for a while"}
    kitchen.keep("/v1/breakdowns/for-a-while", taking_over | {
        "in_use": False, "effective_from": str(NEXT_YEAR + timedelta(days=30))})

    told = refused(kitchen, "/v1/breakdowns/for-a-while", taking_over | {"effective_from": str(NEXT_YEAR)},
                   "still-in-use", "#/outputs")

    assert {"kind": "recipe", "code": "stock", "uses": "leg-trim"} in told["users"]


@pytest.mark.parametrize("line", [a_use("ingredient nothing"), a_use("recipe nothing"), a_use("cut nothing")])
def test_what_is_not_recorded_cannot_be_used(kitchen: Kitchen, line: Body) -> None:
    refused(kitchen, "/v1/dishes/soup", DISH | {"lines": [line]}, "unknown-reference", f"#/lines/0/{next(iter(line))}")


def test_a_loss_cannot_be_used(kitchen: Kitchen) -> None:
    refused(kitchen, "/v1/dishes/soup", DISH | {"lines": [a_use("cut leg-skin")]}, "loss-cannot-be-used",
            "#/lines/0/cut")


@pytest.mark.parametrize(("path", "member"), [("/v1/recipes/stock", "lines"), ("/v1/dishes/soup", "lines"),
                                              ("/v1/breakdowns/boned", "outputs")])
def test_101_lines_are_refused_and_100_are_not(kitchen: Kitchen, path: str, member: str) -> None:
    line = (lambda n: an_output(f"part-{n}", "trim", "0.01")) if member == "outputs" else (
        lambda n: a_use("ingredient egg", str(n + 1), "each"))
    told = refused(kitchen, path, GOOD[path] | {member: [line(n) for n in range(101)]}, "limit-passed", f"#/{member}")
    assert (told["limit"], told["at_most"], told["found"]) == ("lines", 100, 101)
    kitchen.keep(f"{path}-long", GOOD[path] | {member: [line(n) for n in range(100)]})


def test_21_levels_are_refused_wherever_they_are_added(kitchen: Kitchen) -> None:
    """20 recipes stand on one another; neither one on top nor one below the lowest can be added."""
    kitchen.keep("/v1/recipes/level-1", RECIPE | {"lines": [a_use("ingredient egg", "1", "each")]})
    for level in range(2, 21):
        kitchen.keep(f"/v1/recipes/level-{level}", RECIPE | {"lines": [a_use(f"recipe level-{level - 1}", "1", "l")]})
    kitchen.keep("/v1/dishes/deep", DISH | {"lines": [a_use("recipe level-20", "1", "l")]})
    for path, below in (("/v1/recipes/level-21", "level-20"), ("/v1/recipes/level-1", "stock")):
        told = limit_passed(kitchen, path, RECIPE | {"lines": [a_use(f"recipe {below}", "1", "l")]})
        assert (told["limit"], told["at_most"]) == ("levels", 20)
    assert kitchen.read("/v1/recipe-costs/level-20")["recipe"] == "level-20"


def limit_passed(kitchen: Kitchen, path: str, body: Body) -> Body:
    head = kitchen.ledger.head()
    answer = kitchen.put(path, body)
    assert (answer.status_code, answer.json["type"]) == (422, "/docs/problems/limit-passed"), answer.text
    assert kitchen.ledger.head() == head
    told: Body = answer.json
    return told


def test_2001_records_below_a_dish_are_refused_and_2000_are_not(kitchen: Kitchen) -> None:
    """1 980 ingredients in 20 recipes of 99 are 2 000 records; the twentieth recipe gets one more."""
    codes = [f"spice-{number}" for number in range(1_980)]
    mixes = [codes[start:start + 99] for start in range(0, 1_980, 99)]
    with kitchen.ledger.write(BUILDER) as work:
        for record in [*(Ingredient(code, code, "spice", "kg") for code in codes),
                       *(a_recipe(f"mix-{number}", *(a_line(f"ingredient {code}") for code in mix))
                         for number, mix in enumerate(mixes))]:
            kind = {Ingredient: "ingredient", Recipe: "recipe"}[type(record)]
            mark = work.next_mark(Entry("keep", kind, record.code, document(record) | {"effective_from": None}))
            work.add_version(kind, record.code, Version(record, mark))
    all_mixes = DISH | {"lines": [a_use(f"recipe mix-{number}", "1", "l") for number in range(20)]}
    kitchen.keep("/v1/dishes/everything", all_mixes)
    one_more = {"name": "Mix", "makes_quantity": "1", "makes_unit": "l", "lines": [
        *(a_use(f"ingredient {code}") for code in mixes[19]), a_use("ingredient leg")]}
    more_still = all_mixes | {"lines": [*all_mixes["lines"], a_use("ingredient leg")]}
    for path, body in (("/v1/recipes/mix-19", one_more), ("/v1/dishes/everything", more_still)):
        told = limit_passed(kitchen, path, body)
        assert (told["limit"], told["at_most"], told["found"]) == ("records_below", 2_000, 2_001)
        assert (told["kind"], told["record"]) == ("dish", "everything")


def gaps_of(kitchen: Kitchen, path: str) -> list[tuple[str, str]]:
    told = kitchen.read(path)
    assert told["status"] == "incomplete"
    return [(gap["code"], gap["record"]) for gap in told["gaps"]]


def test_a_missing_price_is_a_gap_and_never_refused(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/ingredients/saffron", INGREDIENT)
    kitchen.keep("/v1/dishes/golden", DISH | {"lines": [a_use("ingredient saffron")]})
    assert gaps_of(kitchen, "/v1/dish-costs/golden") == [("no_price", "saffron")]


def test_credits_above_cost_are_a_gap_and_never_refused(kitchen: Kitchen) -> None:
    """By-products credited at 10 000 a kg on a leg of 9.60."""
    kitchen.keep("/v1/breakdowns/credited", {
        "name": "Credited", "input": {"ingredient": "leg"}, "method": "weight", "outputs": [
            an_output("credited-meat"), an_output("credited-bone", "by_product", "0.4", credit_value="10000")]})
    assert gaps_of(kitchen, "/v1/cut-costs/credited-meat") == [("credits_exceed_cost", "credited")]


@pytest.mark.parametrize("value", ["0", "-3"])
def test_nothing_to_carry_the_cost_is_a_gap_and_never_refused(kitchen: Kitchen, value: str) -> None:
    kitchen.keep("/v1/breakdowns/worthless", {
        "name": "Worthless", "input": {"ingredient": "leg"}, "method": "market_value", "outputs": [
            an_output("worthless-a", expected_yield="0.4", market_value=value, finishing_cost="1"),
            an_output("worthless-b", expected_yield="0.4", market_value=value)]})
    assert gaps_of(kitchen, "/v1/cut-costs/worthless-a") == [("nothing_carries_the_cost", "worthless")]


def test_a_missing_value_and_a_yield_of_zero_are_gaps_and_never_refused(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/breakdowns/unvalued", {
        "name": "Unvalued", "input": {"ingredient": "leg"}, "method": "market_value", "outputs": [
            an_output("unvalued-a", expected_yield="0.4", market_value="3"),
            an_output("unvalued-b", expected_yield="0")]})
    assert gaps_of(kitchen, "/v1/cut-costs/unvalued-a") == [("missing_value", "unvalued-b")]
    assert ("no_yield", "unvalued-b") in gaps_of(kitchen, "/v1/cut-costs/unvalued-b")


def test_a_cut_dearer_than_its_market_value_is_a_finding_and_never_refused(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/breakdowns/dear", {
        "name": "Dear", "input": {"ingredient": "leg"}, "method": "weight", "outputs": [
            an_output("dear-meat", market_value="0.01")]})
    told = kitchen.read("/v1/cut-costs/dear-meat")
    assert (told["status"], [finding["code"] for finding in told["findings"]]) == ("complete", ["dearer_than_buying"])
