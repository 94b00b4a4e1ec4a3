"""Fields: what a client may not set is refused or ignored as designed, and what a scope may not see is in no answer.

Sources: OWASP API Security Top 10 2023, API3 (broken object property level authorization); CWE-915, CWE-213.
"""

import csv
import io
import re
from collections.abc import Iterator
from typing import Any

import pytest

from service.use_cases.keys import create_key
from tests.rest.api_document import DOCUMENT
from tests.rest.small_kitchen import BUILDER, GOOD, PRICE, Kitchen

WRITES = [(method.upper(), path) for path, item in DOCUMENT["paths"].items() for method, operation in item.items()
          if isinstance(operation, dict) and "application/json" in operation.get("requestBody", {}).get("content", {})]
KEPT = [path for path in GOOD if path.split("/")[2] in ("suppliers", "ingredients", "breakdowns", "recipes", "dishes")
        and path.count("/") == 3]

ROW = {"dish", "name", "section", "pos_code", "currency", "status", "food_cost", "known_food_cost", "labour_cost",
       "menu_price", "tax_rate_percent", "price_before_tax", "food_cost_percent", "gross_profit",
       "gross_profit_percent", "target_food_cost_percent", "target_basis", "target_menu_price", "within_target", "gaps",
       "findings", "allergens", "allergens_complete"}
TILL_SEES = ROW | {"as_of", "revision", "last_complete"}
"""All that a key with `costs:read` alone is told of a dish; by hand, from what a till needs."""


def references(schema: Any) -> Iterator[dict[str, Any]]:
    """Every schema that a request's body is made of, each once."""
    waiting, seen = [schema], set[str]()
    while waiting:
        here = waiting.pop()
        if isinstance(here, list):
            waiting += here
        elif isinstance(here, dict):
            name = str(here.get("$ref", "")).rpartition("/")[2]
            if name and name not in seen:
                seen.add(name)
                waiting.append(DOCUMENT["components"]["schemas"][name])
            yield here
            waiting += [below for key, below in here.items() if key not in ("example", "examples", "default")]


def body_of(method: str, path: str) -> Any:
    return DOCUMENT["paths"][path][method.lower()]["requestBody"]["content"]["application/json"]["schema"]


@pytest.mark.parametrize(("method", "path"), WRITES)
def test_a_member_that_nobody_knows_is_refused_by_name(kitchen: Kitchen, method: str, path: str) -> None:
    head = kitchen.ledger.head()
    where = re.sub(r"\{(\w+)\}", "leg", path).replace("{business_date}", "2026-03-01")
    answer = kitchen.client.open(where, method=method, json={"is_admin": True}, headers=kitchen.headers)
    if answer.status_code == 404:
        assert "{" in path
        return
    assert answer.status_code == 422, answer.text
    assert "#/is_admin" in [error.get("pointer") for error in answer.json["errors"]]
    assert kitchen.ledger.head() == head


@pytest.mark.parametrize(("method", "path"), WRITES)
def test_every_object_within_a_body_is_closed(method: str, path: str) -> None:
    objects = [schema for schema in references(body_of(method, path)) if "properties" in schema]
    assert objects != []
    assert [schema for schema in objects if schema.get("additionalProperties") is not False] == []


@pytest.mark.parametrize("path", KEPT)
def test_what_only_the_ledger_says_is_ignored_when_it_is_sent_back(kitchen: Kitchen, path: str) -> None:
    """A record can be read, changed and sent back; what it says of its revision moves nothing."""
    code = path.rpartition("/")[2]
    answer = kitchen.put(path, GOOD[path] | {"code": "another", "revision": 999_999, "version_revision": 1,
                                             "in_force_from": "1999-01-01", "scheduled": [{"revision": 1}]})
    assert answer.status_code == 200, answer.text
    shown = kitchen.read(path)
    assert shown["code"] == code
    assert shown["revision"] <= kitchen.ledger.head().revision
    assert shown.get("in_force_from") != "1999-01-01"


@pytest.mark.parametrize("member", ["id", "revision", "recorded_at", "unit_price", "withdrawn", "who", "key_id"])
def test_a_price_s_own_facts_are_refused(kitchen: Kitchen, member: str) -> None:
    answer = kitchen.put("/v1/ingredients/leg/prices", PRICE | {member: "1"})
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == [f"#/{member}"]


@pytest.mark.parametrize("member", ["key", "id", "secret_hash", "created_at", "revoked_at", "last_used_at"])
def test_a_key_s_own_facts_are_refused(kitchen: Kitchen, member: str) -> None:
    answer = kitchen.client.post("/v1/keys", json={"name": "till", "scopes": ["costs:read"], member: "x"},
                                 headers=kitchen.headers)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == [f"#/{member}"]


@pytest.fixture
def till(kitchen: Kitchen) -> dict[str, str]:
    """The header fields of a key with `costs:read` alone."""
    key = create_key(kitchen.ledger, "till", ["costs:read"], None, BUILDER).document["key"]
    return {"Authorization": f"Bearer {key}"}


def test_a_till_sees_a_dish_s_figures_and_nothing_of_what_it_is_made_of(kitchen: Kitchen, till: dict[str, str]) -> None:
    answers = [kitchen.client.get(path, headers=till) for path in (
        "/v1/dish-costs", "/v1/dish-costs/soup", "/v1/dish-costs/changes")]
    rows = [*answers[0].json["data"], answers[1].json]
    assert rows != []
    assert all(set(row) == TILL_SEES for row in rows)
    (change,) = answers[2].json["data"]
    assert set(change) == {"dish", "revision", "as_of", "moved_by", "causes", "before", "after"}
    assert set(change["after"]) == ROW
    assert all(set(cause) == {"kind"} for cause in change["causes"])
    assert all(set(gap) == {"code"} for row in [*rows, change["after"]] for gap in row["gaps"])
    assert rows[0]["gaps"] != []
    told = "".join(answer.text for answer in answers)
    assert not [word for word in ("leg", "egg", "mill", "stock", "boned", "9.60") if f'"{word}' in told]


def test_a_reader_is_told_which(kitchen: Kitchen, till: dict[str, str]) -> None:
    """So the check above can fail."""
    assert "leg" in kitchen.client.get("/v1/dish-costs/soup", headers=kitchen.headers).text
    assert set(kitchen.read("/v1/dish-costs/soup")) - TILL_SEES == {"allergens_not_declared"}


def test_a_till_s_table_has_no_other_columns(kitchen: Kitchen, till: dict[str, str]) -> None:
    answer = kitchen.client.get("/v1/dish-costs", headers=till | {"Accept": "text/csv"})
    (row,) = csv.DictReader(io.StringIO(answer.text))
    assert set(row) <= TILL_SEES
    assert row["dish"] == "soup"


@pytest.mark.parametrize("field", ["lines", "gaps.record", "price", "allergens_not_declared", "causes"])
def test_a_till_cannot_ask_for_more_by_name(kitchen: Kitchen, till: dict[str, str], field: str) -> None:
    answer = kitchen.client.get(f"/v1/dish-costs?fields=dish,{field}", headers=till)
    assert answer.status_code in (403, 422) or answer.json["data"] == [{"dish": "soup"}], answer.text
