"""Conditional requests. Source: RFC 9110 sections 8.8.3 (tags), 13.1.1, 13.1.2, 15.4.5 (what a 304 repeats)."""

import gzip
from typing import Any

import pytest
from flask import Flask, Response, request
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.http import quote_etag

from service.rest.conditional import Prebuilt, gzip_tag, prebuilt_answer, tag_matches
from service.rest.every_answer import accompany
from service.use_cases.conditions import Condition
from tests.rest.trays import a_client, a_tray, as_

BODY = b'{"data":[]}' * 50
ROWS = Prebuilt(BODY, gzip.compress(BODY), '"214-2026-03-01"')


def rows_client() -> Any:
    app = Flask(__name__)
    accompany(app)
    app.add_url_rule("/", "rows", lambda: prebuilt_answer(ROWS, request))
    return app.test_client()


@pytest.mark.parametrize("known", ['"214"', 'W/"214"', '*', '"1", W/"214" , "3"', ' "214"'])
def test_a_read_that_the_client_has_is_304_and_repeats_what_the_200_said(known: str) -> None:
    whole = a_client().get("/v1/trays/a", headers=as_("reader"))
    answer = a_client().get("/v1/trays/a", headers=as_("reader", If_None_Match=known))
    assert (whole.status_code, answer.status_code, answer.data) == (200, 304, b"")
    for name in ("ETag", "Cache-Control", "Vary"):
        assert answer.headers[name] == whole.headers[name]
    assert "Content-Type" not in answer.headers


@pytest.mark.parametrize("known", ['"213"', '""', "garbage", '"', '"214', "W/", '"2"14"'])
def test_a_read_that_the_client_does_not_have_is_200(known: str) -> None:
    assert a_client().get("/v1/trays/a", headers=as_("reader", If_None_Match=known)).status_code == 200


def test_a_head_says_what_the_get_would_and_sends_nothing() -> None:
    answer = a_client().head("/v1/trays/a", headers=as_("reader"))
    assert (answer.status_code, answer.headers["ETag"], answer.data) == (200, '"214"', b"")


def test_private_money_is_revalidated_every_time() -> None:
    answer = a_client().get("/v1/trays/a", headers=as_("reader"))
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.headers["Vary"] == "Authorization, Cookie, Accept, Accept-Encoding"


def test_a_put_answers_without_a_tag_since_what_is_kept_is_not_what_came_byte_for_byte() -> None:
    answer = a_client().put("/v1/trays/new", json=a_tray(), headers=as_("chef"))
    assert (answer.status_code, answer.headers["Location"]) == (201, "/v1/trays/new")
    assert "ETag" not in answer.headers
    assert a_client().put("/v1/trays/old", json=a_tray(), headers=as_("chef")).status_code == 200


@pytest.mark.parametrize(("headers", "condition"), [
    ({}, Condition()),
    ({"If_Match": "*"}, Condition(any_tag=True)),
    ({"If_None_Match": "*"}, Condition(create_only=True)),
    ({"If_Match": '"214"'}, Condition(frozenset({"214"}))),
    ({"If_Match": '"214", "215"'}, Condition(frozenset({"214", "215"}))),
    ({"If_Match": 'W/"214"'}, Condition(frozenset())),
    ({"If_Match": 'W/"214", "215"'}, Condition(frozenset({"215"})))])
def test_what_a_write_asks_reaches_the_use_case(headers: dict[str, str], condition: Condition) -> None:
    seen: list[Any] = []
    assert a_client(seen=seen).put("/v1/trays/a", json=a_tray(), headers=as_("chef", **headers)).status_code == 200
    assert seen[0][1] == condition


@pytest.mark.parametrize("headers", [
    {"If_None_Match": '"214"'}, {"If_Match": ""}, {"If_Match": '"1"', "If_None_Match": "*"},
    {"If_Match": '"a"' * 2000}])
def test_conditions_that_mean_nothing_are_400_and_name_the_field(headers: dict[str, str]) -> None:
    answer = a_client().put("/v1/trays/a", json=a_tray(), headers=as_("chef", **headers))
    assert answer.status_code == 400
    assert answer.json["errors"][0]["header"] in ("If-Match", "If-None-Match")


def test_what_a_put_ignores_is_what_get_gave() -> None:
    seen: list[Any] = []
    client = a_client(seen=seen)
    body = a_tray(code="a", revision=214)
    assert client.put("/v1/trays/a", json=body, headers=as_("chef")).status_code == 200
    assert {"code", "revision"}.isdisjoint(seen[0][0])


def test_prebuilt_bytes_are_sent_as_they_are() -> None:
    answer = rows_client().get("/")
    assert (answer.data, answer.headers["ETag"], answer.headers["Content-Length"]) == (BODY, ROWS.etag, str(len(BODY)))
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(("accepted", "packed"), [
    ("gzip", True), ("gzip, deflate, br", True), ("br, gzip;q=0.5", True), ("GZIP", False), ("gzip;q=0", False),
    ("gzip; q=0.000", False), ("identity", False), ("", False), ("*", False), ("not-gzip", False)])
def test_the_gzip_variant_has_a_tag_of_its_own(accepted: str, packed: bool) -> None:
    answer = rows_client().get("/", headers={"Accept-Encoding": accepted})
    assert ("Content-Encoding" in answer.headers) is packed
    assert answer.headers["ETag"] == ('"214-2026-03-01-gz"' if packed else '"214-2026-03-01"')
    assert (gzip.decompress(answer.data) if packed else answer.data) == BODY


def test_each_variant_is_revalidated_by_its_own_tag() -> None:
    client, plain, packed = rows_client(), ROWS.etag, gzip_tag(ROWS.etag)
    for encoding, own, other in (("gzip", packed, plain), ("identity", plain, packed)):
        asked = {"Accept-Encoding": encoding}
        answer = client.get("/", headers=asked | {"If-None-Match": own})
        assert (answer.status_code, answer.headers["ETag"], answer.data) == (304, own, b"")
        assert {"Vary", "Cache-Control", "X-Request-ID"} <= set(answer.headers.keys())
        assert {"Content-Type", "Content-Length", "Content-Encoding"}.isdisjoint(answer.headers.keys())
        assert client.get("/", headers=asked | {"If-None-Match": other}).status_code == 200


def test_a_head_of_prebuilt_bytes_has_their_length_and_no_body() -> None:
    answer = rows_client().head("/")
    assert (answer.data, answer.headers["Content-Length"]) == (b"", str(len(BODY)))


@given(st.lists(st.text("abc0-", min_size=1, max_size=4), min_size=1), st.text("abc0-", min_size=1, max_size=4))
def test_tags_match_weakly_as_the_library_s_own_conditional_response_does(known: list[str], tag: str) -> None:
    field = ", ".join(quote_etag(each, weak=number % 2 == 0) for number, each in enumerate(known))
    answer = Response("x")
    answer.set_etag(tag)
    answer.make_conditional({"REQUEST_METHOD": "GET", "HTTP_IF_NONE_MATCH": field})
    assert tag_matches(quote_etag(tag), field) == (answer.status_code == 304)


@pytest.mark.parametrize("asked", [{}, {"Accept-Encoding": "gzip"}, {"If-None-Match": ROWS.etag}])
@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_no_field_of_a_prebuilt_answer_stands_twice(asked: dict[str, str], method: str) -> None:
    """Proxies take a second Content-Length for an attack and refuse the answer (RFC 9110, 8.6)."""
    answer = rows_client().open("/", method=method, headers=asked)
    names = [name.lower() for name, _ in answer.headers.items()]
    assert "etag" in names
    assert sorted(names) == sorted(set(names))
