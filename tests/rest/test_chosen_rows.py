"""Filters and sparse fields of the lists of costs: right rows, right members, and a tag for each representation.

The judge of what a filter holds is the unfiltered list, sifted here. Source: RFC 9110 section 8.8.3 (one tag, one
representation).
"""

import csv
import io
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient

from service.rest.conditional import Prebuilt
from service.rest.recent_answers import RecentAnswers
from tests.rest.example_making import KEYS, demo_client

HEAD, TILL = ({"Authorization": f"Bearer {key}"} for key in KEYS)
DISHES, CUTS, RECIPES = "/v1/dish-costs", "/v1/cut-costs", "/v1/recipe-costs"


@pytest.fixture(scope="module")
def client() -> Iterator[FlaskClient]:
    with demo_client() as made:
        yield made


def ask(client: FlaskClient, path: str, headers: dict[str, str] = HEAD, **query: Any) -> Any:
    return client.get(f"{path}?{urlencode(query)}", headers=headers)


def rows(client: FlaskClient, path: str, **query: Any) -> list[dict[str, Any]]:
    answer = ask(client, path, **query)
    assert answer.status_code == 200, answer.text
    found: list[dict[str, Any]] = answer.json["data"]
    return found


def every(client: FlaskClient, path: str) -> list[dict[str, Any]]:
    return rows(client, path, limit=1000)


def test_a_list_may_be_given_as_one_parameter_several_times(client: FlaskClient) -> None:
    """As clients write it that follow the default of OpenAPI for lists: `form` with `explode`."""
    one, two, three = (dish["dish"] for dish in every(client, DISHES)[:3])
    for codes in ((one, two), (one, three)):
        several = client.get(f"{DISHES}?codes={codes[0]}&codes={codes[1]}&limit=1", headers=HEAD)
        assert several.json == ask(client, DISHES, codes=",".join(codes), limit=1).json | {
            "next_cursor": several.json["next_cursor"]}
        after = client.get(f"{DISHES}?codes={codes[0]}&codes={codes[1]}&limit=1&cursor={several.json['next_cursor']}",
                           headers=HEAD)
        assert [row["dish"] for row in after.json["data"]] == [codes[1]]
        assert f"codes={codes[0]}&codes={codes[1]}" in several.headers["Link"]


def test_each_filter_holds_the_rows_that_the_whole_list_has_of_it(client: FlaskClient) -> None:
    dishes = every(client, DISHES)
    pos = [dish["pos_code"] for dish in dishes[:3]]
    codes = [dish["dish"] for dish in dishes[1:4]]
    for section in {dish["section"] for dish in dishes}:
        assert rows(client, DISHES, section=section) == [dish for dish in dishes if dish["section"] == section]
    for word, within in (("true", True), ("false", False)):
        assert rows(client, DISHES, within_target=word) == [d for d in dishes if d["within_target"] is within]
    assert rows(client, DISHES, pos_codes=",".join(pos)) == dishes[:3]
    assert rows(client, DISHES, codes=",".join(reversed(codes))) == dishes[1:4]
    assert rows(client, DISHES, codes=",".join(codes), pos_codes=",".join(pos)) == dishes[1:3]
    cuts = every(client, CUTS)
    breakdown = cuts[0]["breakdown"]
    assert rows(client, CUTS, breakdown=breakdown) == [cut for cut in cuts if cut["breakdown"] == breakdown]
    recipes = every(client, RECIPES)
    assert rows(client, RECIPES, codes=recipes[0]["recipe"]) == recipes[:1]


def test_a_code_that_nothing_has_is_not_there_and_refuses_nobody(client: FlaskClient) -> None:
    first = every(client, DISHES)[0]
    assert rows(client, DISHES, codes=f"long-gone,{first['dish']}") == [first]
    for name, value in (("codes", "long-gone"), ("pos_codes", "9999"), ("section", "terrace")):
        assert rows(client, DISHES, **{name: value}) == []


def test_sparse_rows_have_what_was_asked_for_and_nothing_else(client: FlaskClient) -> None:
    whole = every(client, DISHES)
    for members in (["food_cost"], ["dish", "food_cost", "gaps"], ["status", "pos_code"]):
        assert rows(client, DISHES, fields=",".join(members), limit=1000) == [
            {name: dish[name] for name in members} for dish in whole]


def test_a_key_with_costs_read_alone_sees_no_more_by_asking_for_it(client: FlaskClient) -> None:
    told = ask(client, DISHES, TILL, fields="dish,allergens_not_declared").json["data"]
    assert {tuple(row) for row in told} == {("dish",)}


def test_csv_takes_the_same_filters_and_its_columns_come_in_the_order_asked_for(client: FlaskClient) -> None:
    dishes = [dish for dish in every(client, DISHES) if dish["section"] == "grill"]
    answer = ask(client, DISHES, HEAD | {"Accept": "text/csv"}, section="grill", fields="food_cost,dish")
    assert list(csv.reader(io.StringIO(answer.text, newline=""))) == [
        ["food_cost", "dish"], *[[dish["food_cost"], dish["dish"]] for dish in dishes]]


@pytest.mark.parametrize(("path", "query", "parameter", "words"), [
    (DISHES, {"codes": "Bad_Code"}, "codes", "'Bad_Code' is not a code"),
    (DISHES, {"codes": ""}, "codes", "1 to 200 entries"),
    (DISHES, {"pos_codes": '"10'}, "pos_codes", "in double quotes"),
    (DISHES, {"within_target": "yes"}, "within_target", "true or false"),
    (DISHES, {"section": "x" * 61}, "section", "at most 60"),
    (DISHES, {"fields": "dish,price"}, "fields", "food_cost_percent"),
    (CUTS, {"breakdown": "No Such"}, "breakdown", "is not a code"),
    (CUTS, {"section": "grill"}, "section", "breakdown, codes"),
    (RECIPES, {"fields": "dish"}, "fields", "material_cost")])
def test_a_filter_that_is_wrong_is_refused_by_name_with_the_mend(
    client: FlaskClient, path: str, query: dict[str, str], parameter: str, words: str
) -> None:
    answer = ask(client, path, **query)
    assert answer.status_code == 422
    assert [error["parameter"] for error in answer.json["errors"]] == [parameter]
    assert words in answer.json["errors"][0]["detail"]


def test_a_member_that_is_no_column_is_refused_as_csv(client: FlaskClient) -> None:
    answer = ask(client, DISHES, HEAD | {"Accept": "text/csv"}, fields="dish,gaps")
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "fields")
    assert "known_food_cost" in answer.json["detail"]


def test_every_representation_has_a_tag_of_its_own_and_keeps_it(client: FlaskClient) -> None:
    """Equal tags for other bytes would give somebody a wrong 304 (RFC 9110, 8.8.3)."""
    queries: list[dict[str, Any]] = [
        {}, {"limit": 5}, {"section": "grill"}, {"section": "stove"}, {"fields": "dish"}, {"fields": "dish,food_cost"},
        {"fields": "food_cost,dish"}, {"codes": "beef-pie"}, {"within_target": "true"}, {"within_target": "false"},
        {"section": "grill", "limit": 2}, {"section": "grill", "fields": "dish"}, {"limit": 2}]
    seen: dict[str, Any] = {}
    for headers in (HEAD, TILL, HEAD | {"Accept": "text/csv"}, HEAD | {"Accept-Encoding": "gzip"}):
        for query in queries:
            answer = ask(client, DISHES, headers, **query)
            tag = answer.headers["ETag"]
            assert seen.setdefault(tag, answer.data) == answer.data
            again = ask(client, DISHES, headers | {"If-None-Match": tag}, **query)
            assert (again.status_code, again.headers["ETag"], again.data) == (304, tag, b"")
            for name in ("Vary", "Cache-Control"):
                assert again.headers[name] == answer.headers[name]
    assert len(seen) > 40


def test_pages_of_a_choice_go_on_to_its_end_and_a_cursor_of_another_choice_is_refused(client: FlaskClient) -> None:
    dishes, found, cursor = every(client, DISHES), [], {}
    while True:
        page = ask(client, DISHES, within_target="true", fields="dish", limit=2, **cursor)
        assert page.status_code == 200, page.text
        found += [row["dish"] for row in page.json["data"]]
        if page.json["next_cursor"] is None:
            break
        cursor = {"cursor": page.json["next_cursor"]}
        assert page.headers["Link"].startswith(f"<{DISHES}?within_target=true&fields=dish&limit=2&cursor=")
        other = ask(client, DISHES, within_target="false", fields="dish", limit=2, **cursor)
        assert (other.status_code, other.json["type"]) == (422, "/docs/problems/wrong-cursor")
    assert found == [dish["dish"] for dish in dishes if dish["within_target"]]
    assert len(found) > 4


def test_a_choice_that_fits_on_one_page_is_the_same_for_every_key(client: FlaskClient) -> None:
    made = client.post("/v1/keys", json={"name": "Second till", "scopes": ["costs:read"]}, headers=HEAD).json["key"]
    for query, same in (({"section": "grill"}, True), ({"section": "grill", "limit": 1}, False)):
        one, other = (ask(client, DISHES, headers, **query) for headers in (TILL, {"Authorization": f"Bearer {made}"}))
        assert one.json["data"] == other.json["data"]
        assert (one.headers["ETag"] == other.headers["ETag"], one.data == other.data) == (same, same)


def test_what_is_kept_of_choices_is_bounded_and_the_least_used_goes_first() -> None:
    def answer(name: str) -> Prebuilt:
        made.append(name)
        return Prebuilt(b"x" * 1000, None, f'"{name}"')

    made: list[str] = []
    recent = RecentAnswers(most_bytes=10_000)
    for name in ("a", "b", "c", "d", "a", "e", "a"):
        assert recent.kept(name, lambda name=name: answer(name)).etag == f'"{name}"'  # type: ignore[misc]
    assert (made, len(recent)) == (["a", "b", "c", "d", "e"], 4)
    for name in ("a", "b"):
        recent.kept(name, lambda name=name: answer(name))  # type: ignore[misc]
    assert made[5:] == ["b"]
    small = RecentAnswers(most_bytes=100)
    assert (small.kept("a", lambda: answer("a")).body, len(small)) == (b"x" * 1000, 0)
