"""The check of the promise sees every change that breaks a client, names it, and lets every other one through."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.versioning.made_up_changes import BREAKING, HARMLESS, announced, member, operation
from tests.versioning.openapi_breaks import METHODS, breaks

TEXT = (Path(__file__).parents[2] / "openapi" / "openapi.json").read_text("utf-8")
DOCUMENT: dict[str, Any] = json.loads(TEXT)
TODAY = date(2026, 11, 26)
BOTH_WAYS = {"nothing", "words", "its end is announced", "a row may be sparse, if that is asked for"}
"""What may be taken back, too: of the last, only who sent the new parameter would notice."""


def changed() -> dict[str, Any]:
    return json.loads(TEXT)


@pytest.mark.parametrize("name", BREAKING)
def test_what_breaks_a_client_is_named(name: str) -> None:
    later, (told, change) = changed(), BREAKING[name]
    change(later)
    found = breaks(DOCUMENT, later, TODAY)
    assert any(told in each for each in found), found[:5]


@pytest.mark.parametrize("name", HARMLESS)
def test_what_breaks_nobody_passes(name: str) -> None:
    later = changed()
    HARMLESS[name](later)
    assert breaks(DOCUMENT, later, TODAY) == []


@pytest.mark.parametrize("name", sorted(set(HARMLESS) - BOTH_WAYS))
def test_taking_an_allowed_change_back_is_seen(name: str) -> None:
    """What widened cannot narrow again, and what was told cannot be left out: the relation has a direction."""
    later = changed()
    HARMLESS[name](later)
    assert breaks(later, DOCUMENT, TODAY) != []


@pytest.mark.parametrize(("today", "left"), [(date(2027, 12, 31), 1), (date(2028, 1, 1), 0)])
def test_an_operation_may_go_on_the_day_that_was_announced(today: date, left: int) -> None:
    before, later = changed(), changed()
    announced(before, x_sunset="2028-01-01")
    del later["paths"]["/v1/dish-costs"]["get"]
    assert len(breaks(before, later, today)) == left


def test_an_announced_end_is_not_brought_forward() -> None:
    before, later = changed(), changed()
    announced(before, x_sunset="2028-01-01")
    announced(later, x_sunset="2027-12-31")
    assert breaks(before, later, TODAY) == [
        "GET /v1/dish-costs: its end was announced for 2028-01-01, is now 2027-12-31"]


def test_a_word_may_join_a_list_of_which_more_may_come() -> None:
    before, later = changed(), changed()
    for document in (before, later):
        member(document, "DishCostAnswer", "status")["description"] = "Stable. More may come."
    member(later, "DishCostAnswer", "status")["enum"].append("estimated")
    assert breaks(before, later, TODAY) == []
    assert breaks(later, before, TODAY) == []


def with_webhook(**members: Any) -> dict[str, Any]:
    """The document with a webhook whose payload has these members."""
    document = changed()
    document["webhooks"] = {"dish.cost_changed": {"post": {
        "operationId": "dish_cost_changed", "parameters": [
            {"in": "header", "name": "webhook-id", "required": True, "schema": {"type": "string"}}],
        "requestBody": {"required": True, "content": {"application/json": {"schema": {
            "type": "object", "properties": members, "required": sorted(members)}}}},
        "responses": {"2XX": {"description": "Taken"}, "410": {"description": "No more"}}}}}
    return document


def test_what_a_webhook_sends_is_held_like_an_answer() -> None:
    before = with_webhook(type={"type": "string"}, dish={"type": "string"})
    more = with_webhook(type={"type": "string"}, dish={"type": "string"}, revision={"type": "integer"})
    assert breaks(before, more, TODAY) == []
    assert any("#/revision required was true, is false" in each for each in breaks(more, before, TODAY))
    for part, told in (("parameters", "the header field webhook-id is gone"), ("requestBody", "json is gone")):
        less = with_webhook(type={"type": "string"}, dish={"type": "string"})
        less["webhooks"]["dish.cost_changed"]["post"][part] = type(
            less["webhooks"]["dish.cost_changed"]["post"][part])()
        assert any(told in each for each in breaks(before, less, TODAY))
    assert breaks(before, changed() | {"webhooks": {}}, TODAY) == ["POST dish.cost_changed is gone"]


def test_every_operation_is_held() -> None:
    """Of whichever operation is taken away, that one is named."""
    for path, item in DOCUMENT["paths"].items():
        for method in set(METHODS) & set(item):
            later = {**DOCUMENT, "paths": {**DOCUMENT["paths"], path: {
                name: told for name, told in item.items() if name != method}}}
            narrowed = {**DOCUMENT, "paths": {path: item}}
            assert breaks(narrowed, {**later, "paths": {path: later["paths"][path]}}, TODAY) == [
                f"{method.upper()} {path} is gone"]


def test_the_operation_that_is_changed_here_is_there() -> None:
    assert operation(DOCUMENT)["operationId"] == "list_dish_costs"
