"""Feed links over HTTP. Sources: RFC 9110 sections 9.3.2 (HEAD), 9.3.7 (OPTIONS), 13.1.2 (304), 15.5.5 (404); RFC 4180;
RFC 9457 section 5 (nothing secret in a problem). The judges are the JSON answers, and Python's csv as their reader.
"""

import csv
import io
import logging
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.rest.resources.feed_files import READS_PER_MINUTE
from tests.rest.example_making import KEYS, demo_client

HEAD, TILL = ({"Authorization": f"Bearer {key}"} for key in KEYS)
LISTS = {"dish-costs": ("dishes", "dish"), "cut-costs": ("cuts", "cut"), "recipe-costs": ("recipes", "recipe")}
UNPRICED = {"name": "Special", "portions": "1", "menu_price": "30",
            "lines": [{"ingredient": "truffle", "quantity": "5", "unit": "g"}]}


@pytest.fixture(scope="module")
def client() -> Iterator[FlaskClient]:
    """The demo kitchen, with a dish whose one ingredient has no price."""
    with demo_client() as made:
        truffle = {"name": "Truffle", "kind": "dry goods", "base_unit": "kg"}
        assert made.put("/v1/ingredients/truffle", json=truffle, headers=HEAD).status_code == 201
        assert made.put("/v1/dishes/special", json=UNPRICED, headers=HEAD).status_code == 201
        yield made


def a_feed(client: FlaskClient, **facts: Any) -> dict[str, Any]:
    body = {"name": "Sheet", "lists": ["dish-costs"]} | facts
    answer = client.post("/v1/feeds", json=body, headers=HEAD)
    assert answer.status_code == 201, answer.text
    made: dict[str, Any] = answer.json
    return made


def table(client: FlaskClient, feed: dict[str, Any], which: int = 0, delimiter: str = ",") -> list[list[str]]:
    answer = client.get(feed["urls"][which]["csv"])
    assert answer.status_code == 200, answer.text
    return list(csv.reader(io.StringIO(answer.data.decode("utf-8-sig"), newline=""), delimiter=delimiter, strict=True))


def value(client: FlaskClient, feed: dict[str, Any], code: str, figure: str) -> str:
    answer = client.get(feed["urls"][0]["value"].format(code=code, figure=figure))
    assert (answer.status_code, answer.content_type) == (200, "text/plain; charset=utf-8"), answer.text
    text: str = answer.text
    return text


def rows(client: FlaskClient, name: str, headers: dict[str, str] = HEAD) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = client.get(f"/v1/{name}?limit=1000", headers=headers).json["data"]
    return found


def test_a_link_shows_each_list_with_the_figures_of_the_json_answer(client: FlaskClient) -> None:
    feed = a_feed(client, lists=list(LISTS))
    for which, (name, (kind, code)) in enumerate(LISTS.items()):
        header, *cells = table(client, feed, which)
        shown = [dict(zip(header, row, strict=True)) for row in cells]
        for told, row in zip(rows(client, name), shown, strict=True):
            for member in {"food_cost", "cost_per_kg", "cost", "portions_per_piece", "makes_quantity"} & row.keys():
                figure = told[member]
                assert row[member] == ("n/a" if figure is None else str(figure))
            one = client.get(f"/feeds/{feed['token']}/{kind}/{told[code]}/{header[3]}")
            assert one.text == row[header[3]]
    assert len(shown) > 5


def test_what_is_not_known_is_no_number_and_not_empty(client: FlaskClient) -> None:
    """An empty cell is 0 to a formula; text that is no number makes the formula say so."""
    feed = a_feed(client)
    header, *cells = table(client, feed)
    row = dict(zip(header, next(row for row in cells if row[0] == "special"), strict=True))
    told = client.get("/v1/dish-costs/special", headers=HEAD).json
    nulls = {name for name in row if told.get(name) is None}
    assert nulls >= {"food_cost", "within_target", "gross_profit"}
    assert {row[name] for name in nulls - {"pos_code"}} == {"n/a"}
    assert (row["pos_code"], row["status"]) == ("", "incomplete")
    assert value(client, feed, "special", "food_cost") == "n/a"
    assert value(client, feed, "special", "known_food_cost") == told["known_food_cost"]
    assert value(client, feed, "special", "pos_code") == ""
    csv_of_program = client.get("/v1/dish-costs?codes=special&fields=food_cost", headers=HEAD | {"Accept": "text/csv"})
    assert csv_of_program.data == b"food_cost\r\n\r\n"


def test_a_link_shows_of_dishes_what_a_key_with_costs_read_sees(client: FlaskClient) -> None:
    with_scope = client.get("/v1/dish-costs", headers=TILL | {"Accept": "text/csv"}).text
    for (one, *_), (other, *_) in zip(table(client, a_feed(client)), csv.reader(io.StringIO(with_scope)), strict=True):
        assert one == other
    assert all("truffle" not in cell.lower() for row in table(client, a_feed(client)) for cell in row)


@pytest.mark.parametrize(("facts", "delimiter", "decimal", "bom"), [
    ({}, ",", ".", False), ({"delimiter": "semicolon", "decimal": "comma", "bom": True}, ";", ",", True),
    ({"delimiter": "tab", "decimal": "comma"}, "\t", ",", False), ({"delimiter": "semicolon"}, ";", ".", False)])
def test_a_table_is_written_as_it_was_asked_for(
    client: FlaskClient, facts: dict[str, Any], delimiter: str, decimal: str, bom: bool
) -> None:
    feed = a_feed(client, fields=["name", "food_cost", "as_of", "within_target"], **facts)
    answer = client.get(feed["urls"][0]["csv"])
    assert answer.data.startswith(b"\xef\xbb\xbf") is bom
    assert answer.content_type == "text/csv; charset=utf-8; header=present"
    header, *cells = table(client, feed, delimiter=delimiter)
    assert header == ["name", "food_cost", "as_of", "within_target"]
    for (name, food_cost, as_of, _), told in zip(cells, rows(client, "dish-costs"), strict=True):
        assert (name, as_of) == (told["name"], told["as_of"])
        if told["food_cost"] is not None:
            assert Decimal(food_cost.replace(decimal, ".")) == Decimal(told["food_cost"])
            assert (decimal in food_cost, {".", ","} & set(food_cost)) == (True, {decimal})
    assert value(client, feed, "grilled-cap", "food_cost") == next(row[1] for row in cells if row[0] == "Grilled cap")


def test_text_is_guarded_in_a_table_and_not_in_a_single_value_which_nothing_computes(client: FlaskClient) -> None:
    dish = UNPRICED | {"name": "=1+1", "lines": [{"ingredient": "butter", "quantity": "5", "unit": "g"}]}
    assert client.put("/v1/dishes/formula", json=dish, headers=HEAD).status_code == 201
    feed = a_feed(client)
    assert next(row[1] for row in table(client, feed) if row[0] == "formula") == "'=1+1"
    assert value(client, feed, "formula", "name") == "=1+1"


def test_options_and_head_are_served_as_spreadsheet_programs_ask_them(client: FlaskClient) -> None:
    feed = a_feed(client)
    for url in (feed["urls"][0]["csv"], feed["urls"][0]["value"].format(code="grilled-cap", figure="food_cost")):
        head, got = client.head(url), client.get(url)
        for options in (client.options(url), client.options(url)):
            assert (options.status_code, options.data) == (200, b"")
            assert {"GET", "HEAD", "OPTIONS"} == set(options.headers["Allow"].split(", "))
        assert (head.status_code, head.data, head.headers["Content-Length"]) == (200, b"", str(len(got.data)))
        assert head.headers["ETag"] == got.headers["ETag"]
        assert client.get(url, headers={"Range": "bytes=0-0"}).data == got.data


def test_a_read_that_the_program_has_is_304_and_keeps_its_fields(client: FlaskClient) -> None:
    feed = a_feed(client)
    for url in (feed["urls"][0]["csv"], feed["urls"][0]["value"].format(code="grilled-cap", figure="food_cost")):
        whole = client.get(url)
        for known in (whole.headers["ETag"], f"W/{whole.headers['ETag']}", "*", f'"x", {whole.headers["ETag"]}'):
            again = client.get(url, headers={"If-None-Match": known})
            assert (again.status_code, again.data) == (304, b"")
        for answer in (whole, again, client.head(url)):
            assert answer.headers["Cache-Control"] == "private, no-cache"
            assert answer.headers["Vary"] == "Accept-Encoding"
            assert answer.headers["Referrer-Policy"] == "no-referrer"
            assert answer.headers["X-Robots-Tag"] == "noindex"


def test_two_links_of_another_form_have_other_tags(client: FlaskClient) -> None:
    forms: list[dict[str, Any]] = [{}, {"bom": True}, {"delimiter": "tab"}, {"fields": ["dish"]}, {
        "delimiter": "tab", "decimal": "comma"}, {"fields": ["dish", "name"]}, {"fields": ["name", "dish"]}]
    answers = [client.get(a_feed(client, **facts)["urls"][0]["csv"]) for facts in forms]
    assert len({answer.headers["ETag"] for answer in answers}) == len({answer.data for answer in answers}) == len(forms)


@pytest.mark.parametrize("path", [
    "cut-costs.csv", "no-such.csv", "dish-costs", "cuts/topside-cap/cost_per_kg", "dishes/no-such/food_cost",
    "dishes/grilled-cap/no_such", "dishes/grilled-cap/gaps", "dishes/Bad_Code/food_cost",
    "dishes/grilled-cap/menu_price",
    "plates/grilled-cap/food_cost", "../v1/dish-costs"])
def test_what_a_link_does_not_show_is_404_and_the_token_is_never_told(client: FlaskClient, path: str) -> None:
    feed = a_feed(client, fields=["dish", "food_cost"])
    answer = client.get(f"/feeds/{feed['token']}/{path}")
    assert (answer.status_code, answer.content_type) == (404, "application/problem+json")
    assert feed["token"] not in answer.text + str(answer.headers)
    assert answer.json["instance"] == "/feeds"


def test_an_unknown_a_revoked_and_an_expired_link_are_told_the_same_and_other_methods_tell_no_token(
    client: FlaskClient
) -> None:
    feed = a_feed(client)
    url = feed["urls"][0]["csv"]
    assert client.delete(f"/v1/feeds/{feed['id']}", headers=HEAD).status_code == 204
    revoked, unknown = client.get(url), client.get(url.replace(feed["token"], "x" * 43))
    assert revoked.status_code == unknown.status_code == 404
    assert revoked.json | {"request_id": ""} == unknown.json | {"request_id": ""}
    assert revoked.headers["X-Robots-Tag"] == "noindex"
    for answer in (revoked, client.post(url), client.get(f"{url}?nope=1"), client.get(f"{url}?token=1")):
        assert answer.status_code in (400, 404, 405, 422)
        assert (answer.json["instance"], feed["token"] in answer.text) == ("/feeds", False)


def test_a_program_that_keeps_answers_can_be_made_to_ask_again(client: FlaskClient) -> None:
    url = a_feed(client)["urls"][0]["csv"]
    assert client.get(f"{url}?refresh=46351.5").data == client.get(url).data


def test_what_a_defect_logs_has_no_token(client: FlaskClient, caplog: pytest.LogCaptureFixture,
                                         monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_args: Any) -> None:
        raise RuntimeError("a defect")

    feed = a_feed(client)
    monkeypatch.setattr("service.rest.resources.feed_files.opened_feed", broken)
    with caplog.at_level(logging.DEBUG):
        answer = client.get(feed["urls"][0]["csv"])
    assert (answer.status_code, answer.json["instance"]) == (500, "/feeds")
    assert "a defect" in caplog.text
    assert feed["token"] not in caplog.text + answer.text


def test_each_link_has_an_allowance_of_its_own(client: FlaskClient) -> None:
    one, other = a_feed(client), a_feed(client)
    url, tag = one["urls"][0]["csv"], ""
    left = []
    for _ in range(3):
        answer = client.get(url, headers={"If-None-Match": tag} if tag else {})
        left.append(answer.headers["RateLimit"])
        assert answer.headers["RateLimit-Policy"] == f'"minute";q={READS_PER_MINUTE};w=60'
    assert len(set(left)) == 3
    refused = next(answer for answer in (client.get(url) for _ in range(3 * READS_PER_MINUTE))  # a minute may turn
                   if answer.status_code != 200)
    assert (refused.status_code, refused.json["instance"], int(refused.headers["Retry-After"]) > 0) == (
        429, "/feeds", True)
    assert client.get(other["urls"][0]["csv"]).status_code == 200


@pytest.mark.parametrize(("facts", "pointers", "words"), [
    ({"fields": ["dish", "food_kost", "gaps"]}, ["#/fields/1", "#/fields/2"], "known_food_cost"),
    ({"lists": []}, ["#/lists"], "1 to 3"), ({"lists": ["prices"]}, ["#/lists/0"], "recipe-costs"),
    ({"delimiter": "|"}, ["#/delimiter"], "semicolon"), ({"decimal": "comma"}, ["#/delimiter"], "semicolon"),
    ({"bom": "yes"}, ["#/bom"], "true or false"), ({"expires_at": "2026-11-25"}, ["#/expires_at"], "offset"),
    ({"expires_at": "2026-11-25T10:00:00Z"}, ["#/expires_at"], "future"),
    ({"lists": ["dish-costs", "cut-costs"], "fields": ["name"]}, ["#/fields"], "each list"),
    ({"name": ""}, ["#/name"], "at least 1"), ({"section": "grill"}, ["#/section"], "delimiter")])
def test_a_link_that_cannot_be_is_refused_by_field_with_the_mend(
    client: FlaskClient, facts: dict[str, Any], pointers: list[str], words: str
) -> None:
    before = client.get("/v1/feeds", headers=HEAD).json
    answer = client.post("/v1/feeds", json={"name": "Sheet", "lists": ["dish-costs"]} | facts, headers=HEAD)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == pointers
    assert words in answer.json["errors"][0]["detail"]
    assert client.get("/v1/feeds", headers=HEAD).json == before


def test_a_repeat_shows_no_token_and_the_list_never_does(client: FlaskClient) -> None:
    once = HEAD | {"Idempotency-Key": '"sheet-of-the-week"'}
    body = {"name": "Sheet of the week", "lists": ["dish-costs"]}
    first, again = (client.post("/v1/feeds", json=body, headers=once) for _ in range(2))
    assert (again.status_code, again.headers["Idempotency-Replayed"]) == (201, "true")
    assert again.json == first.json | {"token": None, "urls": None}
    listed = client.get("/v1/feeds", headers=HEAD)
    assert [link["id"] for link in listed.json["data"]].count(first.json["id"]) == 1
    assert first.json["token"] not in listed.text
    assert first.headers["Cache-Control"] == "no-store"


def test_a_maker_needs_the_scope_of_what_the_link_shows(client: FlaskClient) -> None:
    def maker(*scopes: str) -> dict[str, str]:
        made = client.post("/v1/keys", json={"name": "maker", "scopes": list(scopes)}, headers=HEAD).json
        return {"Authorization": f"Bearer {made['key']}"}

    wanted = {"name": "Cuts", "lists": ["cut-costs"]}
    assert client.post("/v1/feeds", json=wanted, headers=maker("read")).json["scope"] == "feeds:manage"
    refused = client.post("/v1/feeds", json=wanted, headers=maker("feeds:manage", "costs:read"))
    assert (refused.status_code, refused.json["scope"]) == (403, "read")
    assert 'scope="read"' in refused.headers["WWW-Authenticate"]
    assert client.post("/v1/feeds", json=wanted, headers=maker("feeds:manage", "read")).status_code == 201
