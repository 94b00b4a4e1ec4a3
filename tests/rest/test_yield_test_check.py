"""A yield test that does not balance cannot be recorded by accident, and looking at one before stores nothing."""

from typing import Any

import pytest

from tests.rest.small_kitchen import BREAKDOWN, TEST, Kitchen, an_output

RECORDING = "/v1/breakdowns/boned/yield-tests"
CHECKING = f"{RECORDING}/check"


def weighing(meat: str, **facts: Any) -> dict[str, Any]:
    """Of 10 kg, of which a tenth is declared to be in no output: meat, 2.9 of trim and 1.1 of skin."""
    outputs = [TEST["outputs"][0] | {"weight": meat}, *TEST["outputs"][1:]]
    return TEST | {"outputs": outputs} | facts


def posted(kitchen: Kitchen, path: str, body: dict[str, Any], headers: dict[str, str] | None = None) -> Any:
    answer = kitchen.client.post(path, json=body, headers=headers or kitchen.headers)
    kitchen.validator.check_answer("post", path, answer.status_code, answer.content_type or "", answer.data)
    return answer


def revision(kitchen: Kitchen) -> int:
    return kitchen.ledger.head().revision


def test_checking_stores_nothing_and_takes_no_revision(kitchen: Kitchen) -> None:
    before, listed = revision(kitchen), kitchen.read(RECORDING)["data"]
    document = posted(kitchen, CHECKING, weighing("5.2")).json
    assert (document["in_line"], document["confirmation_needed"]) == (True, False)
    assert document["revision"] == kitchen.ledger.head().figures_revision
    assert (revision(kitchen), kitchen.read(RECORDING)["data"]) == (before, listed)


def test_a_test_of_which_much_is_missing_is_refused_until_it_is_confirmed(kitchen: Kitchen) -> None:
    """A tenth is usually in no output: a quarter may be. A meat of 3.4 leaves 26 of 100 in none."""
    before = revision(kitchen)
    slip = weighing("3.4")
    checked = posted(kitchen, CHECKING, slip).json
    assert (checked["confirmation_needed"], checked["unaccounted"]["percent"]) == (True, "26.00")
    refused = posted(kitchen, RECORDING, slip)
    assert (refused.status_code, refused.json["type"]) == (422, "/docs/problems/unaccounted-not-confirmed")
    [error] = refused.json["errors"]
    assert (error["pointer"], error["unaccounted_weight"], error["unit"]) == ("#/unaccounted_confirmed", "2.6000", "kg")
    assert (error["unaccounted_percent"], error["confirm_above_percent"]) == ("26.00", "25.00")
    assert posted(kitchen, RECORDING, slip | {"unaccounted_confirmed": False}).status_code == 422
    assert revision(kitchen) == before
    recorded = posted(kitchen, RECORDING, slip | {"unaccounted_confirmed": True})
    assert recorded.status_code == 201
    assert "unaccounted_confirmed" not in recorded.json
    end = posted(kitchen, f"{RECORDING}/{recorded.json['id']}/set-aside", {"reason": "Misread"})
    assert end.status_code == 200


def test_a_plausible_test_needs_no_word_more_than_before(kitchen: Kitchen) -> None:
    recorded = posted(kitchen, RECORDING, weighing("3.5"))
    assert recorded.status_code == 201
    posted(kitchen, f"{RECORDING}/{recorded.json['id']}/set-aside", {"reason": "Made up"})


@pytest.mark.parametrize(("body", "status", "pointers"), [
    (weighing("6.1"), 422, ["#/outputs"]),
    (weighing("5.2", supplier="nobody", tested_on="2999-01-01"), 422, ["#/tested_on", "#/supplier"]),
    (weighing("5.2", unit="l"), 422, ["#/unit"]),
    (weighing("5.2", unaccounted_confirmed="yes"), 422, ["#/unaccounted_confirmed"])])
def test_a_check_refuses_what_recording_refuses(
    kitchen: Kitchen, body: dict[str, Any], status: int, pointers: list[str]
) -> None:
    for path in (CHECKING, RECORDING):
        answer = posted(kitchen, path, body)
        assert (answer.status_code, [error["pointer"] for error in answer.json["errors"]]) == (status, pointers)


def test_a_check_is_of_a_breakdown_that_stands_and_for_whoever_may_record(kitchen: Kitchen) -> None:
    assert posted(kitchen, "/v1/breakdowns/gone/yield-tests/check", weighing("5.2")).status_code == 404
    key = kitchen.client.post("/v1/keys", json={"name": "Reader", "scopes": ["read"]}, headers=kitchen.headers).json
    answer = posted(kitchen, CHECKING, weighing("5.2"), {"Authorization": f"Bearer {key['key']}"})
    assert (answer.status_code, answer.json["scope"]) == (403, "kitchen:write")


def test_a_breakdown_chooses_its_tests_in_one_way_and_says_which_count(kitchen: Kitchen) -> None:
    other = BREAKDOWN | {"name": "Leg, seamed", "in_use": False, "outputs": [
        an_output("seam-meat"), an_output("seam-skin", "loss", "0.3")]}
    kitchen.keep("/v1/breakdowns/seamed", other | {"yields_from_last_tests": 1})
    for day, meat in (("2026-02-03", "5.0"), ("2026-02-10", "6.0")):
        kitchen.keep("/v1/breakdowns/seamed/yield-tests", TEST | {"tested_on": day, "outputs": [
            {"cut": "seam-meat", "weight": meat}, {"cut": "seam-skin", "weight": "3"}]})
    assert kitchen.read("/v1/breakdowns/seamed")["yields_from_last_tests"] == 1
    told = kitchen.read("/v1/breakdowns/seamed/yields")
    assert (told["outputs"][0]["yield"], [test["tested_on"] for test in told["not_chosen"]]) == (
        "0.6000", ["2026-02-03"])
    refused = kitchen.put("/v1/breakdowns/seamed", other | {
        "yields_from_last_tests": 1, "yields_from_tests_since": "2026-02-01"})
    assert (refused.status_code, refused.json["errors"][0]["pointer"]) == (422, "#/yields_from_tests_since")
    none = kitchen.put("/v1/breakdowns/seamed", other | {"yields_from_last_tests": 0})
    assert (none.status_code, none.json["errors"][0]["pointer"]) == (422, "#/yields_from_last_tests")
    kitchen.keep("/v1/breakdowns/seamed", other | {"yields_from_tests_since": "2026-02-04"})
    assert kitchen.read("/v1/breakdowns/seamed/yields?by=butcher&grade=")["part"]["of_tests"] == 1
