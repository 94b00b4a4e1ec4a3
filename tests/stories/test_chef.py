"""The chef: breakdowns and their tests, a cut broken down again, one breakdown taking over from another, what is in
use and cannot go, loops, retiring and reviving, and what is scheduled.

Expected costs are worked out here in plain fractions from the weights and prices of the story.
"""

from fractions import Fraction
from typing import Any

import pytest

from service.cli.demo_kitchen import demo_requests
from tests.stories.expected_figures import rounded
from tests.stories.running_service import MONDAY, WEDNESDAY, Client, RunningService

Body = dict[str, Any]
LAMB_PRICE = Fraction("9.60")
RATE = Fraction("18.60")
"""The demo's labour rate per hour."""
VALUES = {"leg-chump": Fraction("14.50"), "leg-meat": Fraction("12.00")}
TESTS = [("2.900", {"leg-chump": "0.610", "leg-meat": "1.480", "leg-bone": "0.520", "leg-skin": "0.210"}),
         ("3.140", {"leg-chump": "0.655", "leg-meat": "1.602", "leg-bone": "0.600", "leg-skin": "0.240"})]


@pytest.fixture(scope="module")
def chef(service: RunningService) -> Client:
    """A key for the kitchen, the menu and the prices; and a leg of lamb that costs 9.60 a kg."""
    client = service.client("read", "prices:write", "kitchen:write", "menu:write")
    client.keep("/v1/ingredients/lamb-leg", {"name": "Leg of lamb", "kind": "primal", "base_unit": "kg",
                                             "preferred_supplier": "fenmoor", "allergens": []})
    client.keep("/v1/ingredients/lamb-leg/prices", {
        "supplier": "fenmoor", "amount": "9.60", "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": "2026-01-05"})
    client.keep("/v1/breakdowns/leg-boned", boned())
    return client


def an_output(cut: str, role: str, expected_yield: str, **facts: str) -> Body:
    return {"cut": cut, "name": cut.capitalize(), "role": role, "expected_yield": expected_yield, **facts}


def boned(*left_out: str) -> Body:
    outputs = [an_output("leg-chump", "main", "0.20", market_value="14.50", portion_weight_kg="0.2"),
               an_output("leg-meat", "trim", "0.52", market_value="12.00"),
               an_output("leg-bone", "by_product", "0.18", credit_value="0.80"),
               an_output("leg-skin", "loss", "0.08", disposal_cost="0.25")]
    return {"name": "Leg, boned", "input": {"ingredient": "lamb-leg"}, "method": "market_value",
            "labour_minutes_per_kg": "6", "packaging_per_kg": "0.04",
            "outputs": [output for output in outputs if output["cut"] not in left_out]}


def a_recipe(*lines: Body, **facts: Any) -> Body:
    return {"name": "A recipe", "makes_quantity": "1", "makes_unit": "kg", "lines": list(lines), **facts}


def a_line(of: str, quantity: str = "1", unit: str = "kg") -> Body:
    kind, code = of.split()
    return {kind: code, "quantity": quantity, "unit": unit}


def a_dish(*lines: Body, **facts: Any) -> Body:
    return {"name": "A dish", "portions": "1", "lines": list(lines), **facts}


def yields_by_test() -> dict[str, Fraction]:
    """The ratio of sums, from the weights above."""
    paid_for = sum(Fraction(weight) for weight, _ in TESTS)
    return {cut: sum(Fraction(weights[cut]) for _, weights in TESTS) / paid_for for cut in TESTS[0][1]}


def pools(yields: dict[str, Fraction]) -> tuple[Fraction, Fraction]:
    """Material and labour per kg of leg."""
    material = (LAMB_PRICE + Fraction("0.04") + Fraction("0.25") * yields["leg-skin"]
                - Fraction("0.80") * yields["leg-bone"])
    return material, 6 * RATE / 60


def test_declared_yields_stand_until_a_test_counts_then_the_ratio_of_sums(chef: Client) -> None:
    before = chef.read("/v1/cut-costs/leg-chump")
    assert (before["yield"], before["yield_basis"]) == ("0.2000", "declared")
    for number, (weight, outputs) in enumerate(TESTS):
        chef.keep("/v1/breakdowns/leg-boned/yield-tests", {
            "tested_on": f"2026-11-{10 + number}", "unit": "kg", "input_weight": weight,
            "outputs": [{"cut": cut, "weight": value} for cut, value in outputs.items()]})
    yields = yields_by_test()
    material, labour = pools(yields)
    worth = sum(VALUES[cut] * yields[cut] for cut in VALUES)
    for cut, value in VALUES.items():
        told = chef.read(f"/v1/cut-costs/{cut}")
        assert (told["yield"], told["yield_basis"]) == (rounded(yields[cut], 4), "tests")
        assert told["material_cost_per_kg"] == rounded(material * value / worth, 4)
        assert told["labour_cost_per_kg"] == rounded(labour * value / worth, 4)
        assert told["share_of_joint_cost"] == rounded(value * yields[cut] / worth, 4)
    bone = chef.read("/v1/cut-costs/leg-bone")
    assert (bone["material_cost_per_kg"], bone["labour_cost_per_kg"]) == ("0.8000", "0.0000")


def test_before_the_first_test_was_made_the_declared_yields_stand(chef: Client) -> None:
    assert chef.read("/v1/cut-costs/leg-chump?as_of=2026-11-09")["yield_basis"] == "declared"


def test_a_test_set_aside_no_longer_counts_and_stays_on_record(chef: Client) -> None:
    weights = [{"cut": cut, "weight": "0"} for cut in TESTS[0][1]]
    nothing = {"tested_on": "2026-11-20", "unit": "kg", "input_weight": "30", "outputs": weights}
    refused = chef.post("/v1/breakdowns/leg-boned/yield-tests", nothing)
    assert (refused.status_code, refused.json()["unaccounted_percent"]) == (422, "100.00")
    slip = chef.keep("/v1/breakdowns/leg-boned/yield-tests", nothing | {"unaccounted_confirmed": True})
    assert chef.read("/v1/cut-costs/leg-chump")["yield"] != rounded(yields_by_test()["leg-chump"], 4)
    answer = chef.post(f"/v1/breakdowns/leg-boned/yield-tests/{slip['id']}/set-aside", {"reason": "Scale not zeroed"})
    assert answer.json()["set_aside"]["reason"] == "Scale not zeroed"
    assert chef.read("/v1/cut-costs/leg-chump")["yield"] == rounded(yields_by_test()["leg-chump"], 4)
    listed = chef.read("/v1/breakdowns/leg-boned/yield-tests")["data"]
    assert [(test["id"] == slip["id"], test["counts"]) for test in listed] == [
        (True, False), (False, True), (False, True)]


def test_a_cut_is_broken_down_again_and_carries_its_own_cost_on(chef: Client) -> None:
    chef.keep("/v1/breakdowns/chump-trimmed", {
        "name": "Chump, trimmed", "input": {"cut": "leg-chump"}, "method": "weight", "labour_minutes_per_kg": "10",
        "outputs": [an_output("chump-steak", "main", "0.75"), an_output("chump-dice", "trim", "0.2"),
                    an_output("chump-rind", "loss", "0.05")]})
    chump = chef.read("/v1/cut-costs/leg-chump")
    steak = chef.read("/v1/cut-costs/chump-steak")
    yields = yields_by_test()
    material, labour = pools(yields)
    worth = sum(VALUES[cut] * yields[cut] for cut in VALUES)
    per_kg = VALUES["leg-chump"] / worth
    assert steak["material_cost_per_kg"] == rounded(material * per_kg / Fraction("0.95"), 4)
    assert steak["labour_cost_per_kg"] == rounded((labour * per_kg + 10 * RATE / 60) / Fraction("0.95"), 4)
    assert steak["yield_of_ingredient"] == rounded(yields["leg-chump"] * Fraction("0.75"), 4)
    assert (steak["ingredient"], steak["input"], chump["yield_of_ingredient"]) == (
        "lamb-leg", {"cut": "leg-chump"}, chump["yield"])


def test_one_breakdown_takes_over_from_another_in_the_same_revision(chef: Client) -> None:
    before = chef.read("/v1/breakdowns/chump-trimmed")["revision"]
    chef.keep("/v1/dishes/chump", a_dish(a_line("cut chump-steak", "200", "g"), menu_price="20"))
    taken = chef.keep("/v1/breakdowns/chump-tied", {
        "name": "Chump, tied", "input": {"cut": "leg-chump"}, "method": "weight",
        "outputs": [an_output("chump-steak", "main", "0.9"), an_output("chump-ends", "trim", "0.08")]})
    former = chef.read("/v1/breakdowns/chump-trimmed")
    assert (former["in_use"], former["revision"], taken["in_use"]) == (False, taken["revision"], True)
    assert former["revision"] > before
    assert chef.read("/v1/cut-costs/chump-steak")["breakdown"] == "chump-tied"
    assert chef.get("/v1/cut-costs/chump-dice").status_code == 404
    changes = [change for change in all_changes(chef) if change["revision"] == taken["revision"]]
    assert [(change["entry"], change["code"]) for change in changes] == [(1, "chump-tied"), (2, "chump-trimmed")]


def all_changes(chef: Client) -> list[Body]:
    changes: list[Body] = []
    cursor = ""
    while True:
        page = chef.read(f"/v1/changes?limit=1000{cursor}")
        changes += page["data"]
        if not page["more"]:
            return changes
        cursor = f"&after={page['next_cursor']}"


def test_a_take_over_that_leaves_a_used_cut_without_a_maker_is_refused(chef: Client) -> None:
    chef.keep("/v1/dishes/meat", a_dish(a_line("cut leg-meat", "150", "g")))
    answer = chef.put("/v1/breakdowns/leg-whole", {
        "name": "Leg, chump off", "input": {"ingredient": "lamb-leg"}, "method": "weight",
        "outputs": [an_output("leg-chump", "main", "0.2"), an_output("leg-rest", "main", "0.7")]})
    refused_in_use(answer, {("dish", "meat", "leg-meat")})
    assert chef.read("/v1/breakdowns/leg-boned")["in_use"] is True


@pytest.mark.parametrize("change", ["left out", "made a loss", "put out of use"])
def test_dropping_an_output_that_something_uses_is_refused_with_the_users(chef: Client, change: str) -> None:
    chef.keep("/v1/recipes/lamb-stew", a_recipe(a_line("cut leg-meat", "2")))
    body = boned("leg-meat") if change == "left out" else boned()
    if change == "made a loss":
        body["outputs"][1]["role"] = "loss"
    if change == "put out of use":
        body["in_use"] = False
    answer = chef.put("/v1/breakdowns/leg-boned", body, if_match="*")
    used = {("recipe", "lamb-stew", "leg-meat"), ("dish", "meat", "leg-meat")}
    if change == "put out of use":
        used |= {("breakdown", "chump-tied", "leg-chump"), ("breakdown", "chump-trimmed", "leg-chump")}
    refused_in_use(answer, used)
    assert answer.json()["errors"][0]["pointer"] == "#/outputs"


def refused_in_use(answer: Any, users: set[tuple[str, str, str]]) -> None:
    """Refused as still in use, naming the users; the one who asks reads them in the sentence too."""
    assert (answer.status_code, answer.json()["type"]) == (409, "/docs/problems/still-in-use")
    assert {(user["kind"], user["code"], user["uses"]) for user in answer.json()["users"]} == users
    assert all(f"{kind} {code!r}" in answer.json()["detail"] for kind, code, _ in users)


def test_retiring_a_recipe_that_something_uses_is_refused_with_the_users(chef: Client) -> None:
    """The users are read off the demo's own requests."""
    naming = [request.path for request in demo_requests(WEDNESDAY)
              if any(line.get("recipe") == "brown-stock" for line in request.body.get("lines", ()))]
    users = {tuple(path.removeprefix("/v1/").replace("s/", "/").split("/")) for path in naming}
    assert len(users) > 3
    tag = chef.get("/v1/recipes/brown-stock").headers["ETag"]
    answer = chef.ask("DELETE", "/v1/recipes/brown-stock", if_match=tag)
    refused_in_use(answer, {(*user, "brown-stock") for user in users})
    assert chef.get("/v1/recipes/brown-stock").status_code == 200


@pytest.mark.parametrize("path", ["/v1/ingredients/lamb-leg", "/v1/breakdowns/leg-boned", "/v1/suppliers/fenmoor"])
def test_whatever_is_used_stays(chef: Client, path: str) -> None:
    answer = chef.ask("DELETE", path, if_match="*")
    assert (answer.status_code, bool(answer.json()["users"])) == (409, True)


def test_what_is_scheduled_to_be_used_stays(chef: Client) -> None:
    """From Monday on the shallots come from another supplier, and a dish uses another sauce: both must stay."""
    chef.keep("/v1/suppliers/orchard", {"name": "Orchard"})
    chef.keep("/v1/recipes/verjuice", a_recipe(a_line("ingredient butter")))
    shallot = chef.read("/v1/ingredients/shallot")
    chef.keep("/v1/ingredients/shallot", shallot | {
        "preferred_supplier": "orchard", "effective_from": MONDAY.isoformat()})
    chef.keep("/v1/dishes/monday-special", a_dish(a_line("recipe verjuice")) | {"effective_from": MONDAY.isoformat()})
    refused_in_use(chef.ask("DELETE", "/v1/suppliers/orchard", if_match="*"), {("ingredient", "shallot", "orchard")})
    refused_in_use(chef.ask("DELETE", "/v1/recipes/verjuice", if_match="*"), {("dish", "monday-special", "verjuice")})


def test_a_retired_recipe_is_gone_cannot_be_used_and_is_revived_by_a_put(chef: Client) -> None:
    path, body = "/v1/recipes/mint-sauce", a_recipe(a_line("ingredient parsley", "2", "each"))
    assert chef.put(path, body).status_code == 201
    tag = chef.get(path).headers["ETag"]
    assert chef.ask("DELETE", path, if_match=tag).status_code == 204
    gone = chef.get(path)
    assert (gone.status_code, gone.json()["type"]) == (404, "/docs/problems/not-found")
    assert chef.get("/v1/recipe-costs/mint-sauce").status_code == 404
    assert chef.ask("DELETE", path, if_match=tag).status_code == 404
    used = chef.put("/v1/dishes/minted", a_dish(a_line("recipe mint-sauce", "20", "g")))
    assert (used.status_code, used.json()["type"]) == (422, "/docs/problems/retired-reference")
    revived = chef.put(path, body)
    assert (revived.status_code, revived.headers["Location"]) == (201, path)
    assert chef.put("/v1/dishes/minted", a_dish(a_line("recipe mint-sauce", "20", "g"))).status_code == 201
    assert chef.read(path)["revision"] > int(tag.strip('"'))


def test_a_recipe_retired_from_monday_is_there_until_sunday(chef: Client) -> None:
    path = "/v1/recipes/winter-sauce"
    chef.keep(path, a_recipe(a_line("ingredient butter")))
    assert chef.ask("DELETE", f"{path}?effective_from={MONDAY}", if_match="*").status_code == 204
    assert [chef.get(f"{path}?as_of={day}").status_code for day in (WEDNESDAY, "2026-11-29", MONDAY)] == [200, 200, 404]


def shows_the_loop(answer: Any, pointer: str, *loop: str) -> None:
    assert (answer.status_code, answer.json()["type"]) == (422, "/docs/problems/recipe-loop")
    (error,) = answer.json()["errors"]
    assert error["pointer"] == pointer
    assert [f"{step['kind']} {step['code']}" for step in error["loop"]] == list(loop)
    assert " -> ".join(loop) in error["detail"]


@pytest.mark.parametrize("known", [False, True])
def test_a_recipe_that_names_itself_is_shown_the_loop(chef: Client, known: bool) -> None:
    if known:
        chef.keep("/v1/recipes/ouroboros", a_recipe(a_line("ingredient butter")))
    answer = chef.put("/v1/recipes/ouroboros", a_recipe(a_line("ingredient butter"), a_line("recipe ouroboros")),
                      **({"if_match": "*"} if known else {}))
    shows_the_loop(answer, "#/lines/1/recipe", "recipe ouroboros", "recipe ouroboros")


def test_a_loop_round_five_corners_is_shown(chef: Client) -> None:
    chef.keep("/v1/recipes/corner-1", a_recipe(a_line("ingredient butter")))
    for number in (2, 3, 4, 5):
        chef.keep(f"/v1/recipes/corner-{number}", a_recipe(a_line(f"recipe corner-{number - 1}")))
    answer = chef.put("/v1/recipes/corner-1", a_recipe(a_line("ingredient butter"), a_line("recipe corner-5")),
                      if_match="*")
    shows_the_loop(answer, "#/lines/1/recipe", "recipe corner-1", "recipe corner-5", "recipe corner-4",
                   "recipe corner-3", "recipe corner-2", "recipe corner-1")
    assert chef.read("/v1/recipe-costs/corner-5")["status"] == "complete"


def test_a_breakdown_that_makes_what_it_is_made_of_is_shown_the_loop(chef: Client) -> None:
    answer = chef.put("/v1/breakdowns/cut-again", {
        "name": "Again", "input": {"cut": "again"}, "method": "weight", "outputs": [an_output("again", "main", "0.9")]})
    assert (answer.status_code, answer.json()["type"]) == (422, "/docs/problems/recipe-loop")
    (error,) = answer.json()["errors"]
    assert (error["pointer"], error["loop"][0]) == ("#/input/cut", error["loop"][-1])
    assert {tuple(sorted(step)) for step in error["loop"]} == {("code", "kind")}


def test_breakdowns_that_feed_each_other_are_shown_the_loop(chef: Client) -> None:
    def one_into(code: str, source: Body, made: str) -> Any:
        body = {"name": code, "input": source, "method": "weight", "outputs": [an_output(made, "main", "0.9")]}
        there = chef.get(f"/v1/breakdowns/{code}").status_code == 200
        return chef.put(f"/v1/breakdowns/{code}", body, **({"if_match": "*"} if there else {}))

    assert one_into("round-1", {"ingredient": "lamb-leg"}, "round-a").status_code == 201
    assert one_into("round-2", {"cut": "round-a"}, "round-b").status_code == 201
    shows_the_loop(one_into("round-1", {"cut": "round-b"}, "round-a"), "#/input/cut", "breakdown round-1",
                   "cut round-b", "breakdown round-2", "cut round-a", "breakdown round-1")


def test_a_recipe_scheduled_for_monday_is_the_old_one_until_then(chef: Client) -> None:
    path = "/v1/recipes/spring-sauce"
    chef.keep(path, a_recipe(a_line("ingredient butter", "500", "g")))
    tag = chef.get(path).headers["ETag"]
    later = a_recipe(a_line("ingredient butter", "250", "g")) | {"effective_from": MONDAY.isoformat()}
    assert chef.put(path, later, if_match=tag).status_code == 200
    record = chef.read(path)
    assert (record["lines"][0]["quantity"], record["in_force_from"]) == ("500", None)
    assert record["scheduled"] == [MONDAY.isoformat()]
    assert chef.read(f"{path}?as_of={MONDAY}")["lines"][0]["quantity"] == "250"
    costs = [chef.read(f"/v1/recipe-costs/spring-sauce?as_of={day}")["material_cost"] for day in (WEDNESDAY, MONDAY)]
    assert costs == ["3.4000", "1.7000"]  # butter is 68.00 for 10 kg
    head = chef.head_revision()
    assert chef.put(path, later).status_code == 200
    assert chef.head_revision() == head
