"""Requests that a fuzzer of the API document once got a wrong answer to: each stays here, with the answer it must get.

Found with schemathesis 4.32.5 against the served document. What is right is said by RFC 9110: sections 8.8.3 (`""` is
an entity tag), 13.1.1 (If-Match fails when no tag matches) and 13.1.2 (`*` matches whatever is there).
"""

import json

import pytest

from service.rest.fields.texts import RESERVED_CODES
from tests.rest.small_kitchen import Body, Kitchen


@pytest.mark.parametrize("tags", ['""', '"", "x"', 'W/""'])
@pytest.mark.parametrize("method", ["PUT", "DELETE"])
def test_an_empty_tag_matches_no_record(kitchen: Kitchen, method: str, tags: str) -> None:
    answer = kitchen.client.open("/v1/suppliers/mill", method=method, headers=kitchen.headers | {"If-Match": tags},
                                 json={"name": "Another"} if method == "PUT" else None)
    assert answer.status_code == 412, answer.text
    assert kitchen.read("/v1/suppliers/mill")["name"] == "Mill"


@pytest.mark.parametrize("path", ["/v1/dish-costs", "/v1/settings", "/v1/ingredients/leg"])
def test_a_star_matches_whatever_is_read(kitchen: Kitchen, path: str) -> None:
    answer = kitchen.client.get(path, headers=kitchen.headers | {"If-None-Match": "*"})
    assert (answer.status_code, answer.data) == (304, b"")


@pytest.mark.parametrize("tags", ["", "L7/Pk", "{}", '""', '"', "9" * 5000])
def test_a_read_goes_on_where_its_tags_are_none(kitchen: Kitchen, tags: str) -> None:
    answer = kitchen.client.get("/v1/ingredients/leg", headers=kitchen.headers | {"If-None-Match": tags})
    assert answer.status_code == 200
    assert answer.json["code"] == "leg"


@pytest.mark.parametrize("cursor", ["\u00fe\U000f4c3a", "?", "=", "-", "a" * 2048, "a" * 2049, "%", "\x00"])
@pytest.mark.parametrize("path", ["/v1/changes", "/v1/prices", "/v1/dish-costs", "/v1/suppliers"])
def test_a_cursor_that_was_never_given_is_refused_by_name(kitchen: Kitchen, path: str, cursor: str) -> None:
    parameter = "after" if path == "/v1/changes" else "cursor"
    answer = kitchen.client.get(path, query_string={parameter: cursor}, headers=kitchen.headers)
    assert (answer.status_code, answer.json["errors"][0]["code"]) == (422, "wrong-cursor")


def test_a_cursor_s_fault_names_the_parameter_that_it_came_in(kitchen: Kitchen) -> None:
    answer = kitchen.client.get("/v1/changes?after=never-given", headers=kitchen.headers)
    assert answer.json["errors"][0]["parameter"] == "after"


@pytest.mark.parametrize("path", ["/health/live", "/health/ready"])
def test_what_is_open_to_all_refuses_parameters_as_documented(kitchen: Kitchen, path: str) -> None:
    answer = kitchen.client.get(path + "?verbose=1")
    kitchen.validator.check_answer("GET", path, answer.status_code, answer.content_type or "", answer.data)
    assert answer.status_code == 422


def test_the_document_promises_no_longer_list_than_a_record_may_have(kitchen: Kitchen) -> None:
    schemas = kitchen.validator.document["components"]["schemas"]
    for name, member in (("DishRequest", "lines"), ("RecipeRequest", "lines"), ("BreakdownRequest", "outputs")):
        assert schemas[name]["properties"][member]["maxItems"] == 100, name
    lines = [{"ingredient": "egg", "quantity": "1", "unit": "each"}] * 101
    answer = kitchen.send("PUT", "/v1/recipes/long", json.dumps(
        {"name": "Long", "makes_quantity": "1", "makes_unit": "l", "lines": lines}).encode())
    assert (answer.status_code, answer.json["type"]) == (422, "/docs/problems/limit-passed")


@pytest.mark.parametrize("code", sorted(RESERVED_CODES))
def test_a_reserved_code_is_refused_although_it_looks_like_one(kitchen: Kitchen, code: str) -> None:
    answer = kitchen.send("PUT", f"/v1/suppliers/{code}", b'{"name": "X"}')
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "code")


@pytest.mark.parametrize(("body", "pointer"), [
    ({f"member-{number}": 1 for number in range(201)}, "#"),
    ({"name": "Mill", "note": {f"member-{number}": 1 for number in range(201)}}, "#/note"),
    ({"name": "Mill", "n" * 201: 1}, "#"),
    ({"name": "Mill", "note": [[1] * 1_000] * 300}, "#")])
def test_what_no_schema_could_know_is_refused_before_any_sees_it(kitchen: Kitchen, body: Body, pointer: str) -> None:
    """A megabyte of unknown members took three seconds, and its answer was ten times as large."""
    answer = kitchen.send("PUT", "/v1/suppliers/mill", json.dumps(body).encode())
    assert (answer.status_code, answer.json["type"]) == (400, "/docs/problems/malformed-json"), answer.text
    assert [error["pointer"] for error in answer.json["errors"]] == [pointer]
    assert len(answer.data) < 1_000


def test_of_a_thousand_faults_a_hundred_are_told_and_that_there_are_more(kitchen: Kitchen) -> None:
    lines = [{"pos_code": "", "quantity": "x"}] * 1_000
    answer = kitchen.send("PUT", "/v1/sales/2026-02-03", json.dumps({"lines": lines}).encode())
    assert (answer.status_code, len(answer.json["errors"])) == (422, 100), answer.text
    assert answer.json["detail"].startswith("100 things, or more, are wrong")
    assert answer.json["errors"][0]["pointer"].startswith("#/lines/0/")
    few = kitchen.send("PUT", "/v1/sales/2026-02-03", json.dumps({"lines": lines[:3]}).encode())
    assert few.json["detail"].startswith("6 things are wrong")
