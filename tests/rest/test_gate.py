"""The gate before every view: keys and tokens told apart, what stands in the address, codes, and what is refused first.

Sources: RFC 6750 sections 2.1 (what a bearer's text may be), 2.3, 5.3 (no key in an address) and 3.1 (invalid_token);
RFC 7519 section 3 (three parts with full stops between); RFC 9110 section 11.1 (schemes in any case).
"""

from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.datastructures import MultiDict
from werkzeug.test import TestResponse

from service.domain.errors import Refused
from service.rest.query_faults import hold_to_parameters
from service.rest.sentences import MOST_TOLD
from service.use_cases.token_identity import IdentityProviderUnavailable
from tests.plain_words import is_a_sentence
from tests.rest.trays import CALLERS, Who, a_client, a_tray, as_

TOKEN = "eyJhbGciOiJSUzI1NiJ9.eyJzdWIiOiJhbm4ifQ.c2lnbmVk"
INVALID = 'Bearer realm="seamcost", error="invalid_token", error_description="The key is not valid"'


class Asked:
    """Two authenticators that say what they were asked."""

    def __init__(self) -> None:
        self.keys: list[str] = []
        self.tokens: list[str] = []
        self.unavailable = False

    def key(self, secret: str) -> Who | None:
        self.keys.append(secret)
        return CALLERS.get(secret)

    def token(self, token: str) -> Who | None:
        self.tokens.append(token)
        if self.unavailable:
            raise IdentityProviderUnavailable
        return CALLERS["reader"] if token == TOKEN else None


@pytest.fixture(scope="module")
def made() -> tuple[FlaskClient, Asked]:
    asked = Asked()
    return a_client(authenticate=asked.key, by_token=asked.token), asked


@pytest.fixture
def asked(made: tuple[FlaskClient, Asked]) -> Asked:
    made[1].__init__()  # type: ignore[misc]
    return made[1]


@pytest.fixture
def client(made: tuple[FlaskClient, Asked]) -> FlaskClient:
    return made[0]


def read(client: FlaskClient, field: str, path: str = "/v1/trays/a") -> TestResponse:
    return client.get(path, headers={"Authorization": field})


def told(answer: TestResponse) -> str:
    """What is said; every refusal says it in a sentence."""
    for each in (answer.json, *answer.json.get("errors", ())):
        assert is_a_sentence(each["detail"]), each["detail"]
    return str(answer.json["detail"])


@pytest.mark.parametrize(("secret", "is_a_token"), [
    (TOKEN, True), ("a..", True), ("a.b.c", True), ("reader", False), ("a.b", False), ("a.b.c.d", False),
    ("a.b.c=", False), (".b.c", False), ("a+.b.c", False)])
def test_a_token_is_told_from_a_key_by_its_full_stops(
        client: FlaskClient, asked: Asked, secret: str, is_a_token: bool) -> None:
    assert read(client, f"Bearer {secret}").status_code == (200 if secret in (TOKEN, "reader") else 401)
    assert (asked.tokens, asked.keys) == (([secret], []) if is_a_token else ([], [secret]))


def test_a_token_opens_what_its_scopes_say_and_no_more(client: FlaskClient, asked: Asked) -> None:
    refused = client.put("/v1/trays/a", json=a_tray(), headers={"Authorization": f"bearer  {TOKEN} "})
    assert (refused.status_code, refused.json["scope"]) == (403, "menu:write")
    assert "menu:write" in told(refused)
    assert asked.tokens == [TOKEN]


def test_a_token_that_is_not_good_and_one_of_which_it_cannot_be_told(client: FlaskClient, asked: Asked) -> None:
    wrong = read(client, "Bearer a.b.c")
    assert (wrong.status_code, wrong.headers["WWW-Authenticate"]) == (401, INVALID)
    assert "token" in told(wrong)
    asked.unavailable = True
    unknown = read(client, f"Bearer {TOKEN}")
    assert (unknown.status_code, unknown.headers["Retry-After"]) == (503, "5")
    assert "identity provider" in told(unknown)


def test_without_a_provider_a_token_is_a_key_that_nobody_made(asked: Asked) -> None:
    assert read(a_client(authenticate=asked.key), f"Bearer {TOKEN}").status_code == 401
    assert asked.keys == [TOKEN]


@pytest.mark.parametrize(("field", "key"), [
    ("Bearer reader", "reader"), ("Bearer   reader  ", "reader"), ("BEARER reader", "reader"),
    ("Bearer " + "x" * 256, "x" * 256), ("Bearer x==", "x=="), ("Bearer XreaderX", "XreaderX"),
    ("Bearer a-b._~+/c", "a-b._~+/c"),
    ("Bearer " + "x" * 257, None), ("Bearer a=b", None), ("Bearer \u00e9", None), ("Bearer reader reader", None),
    ("Bearer", None), ("Bearer\treader", None), ("Token reader", None), ("Bearers reader", None)])
def test_only_what_can_be_a_key_is_asked_for(client: FlaskClient, asked: Asked, field: str, key: str | None) -> None:
    answer = read(client, field)
    assert asked.keys == ([] if key is None else [key])
    assert answer.status_code == (200 if key == "reader" else 401)
    assert key == "reader" or "Bearer" in told(answer) + answer.headers["WWW-Authenticate"]


def test_a_wrong_key_is_challenged_and_none_is_told_what_to_send(client: FlaskClient, asked: Asked) -> None:
    wrong, none, other = read(client, "Bearer nope"), client.get("/v1/trays/a"), read(client, "Digest x")
    assert wrong.headers["WWW-Authenticate"] == INVALID
    assert "expired or revoked" in told(wrong)
    for answer in (none, other):
        assert answer.headers.getlist("WWW-Authenticate") == [
            'Bearer realm="seamcost"', 'Basic realm="seamcost", charset="UTF-8"']
        assert "`Authorization: Bearer <key>`" in told(answer)


@pytest.mark.parametrize("name", ["api_key", "apikey", "api-key", "access_token", "token", "key", "authorization",
                                  "Api_Key", "AUTHORIZATION"])
@pytest.mark.parametrize("path", ["/v1/trays/a", "/v1/trays", "/health/live"])
def test_a_key_in_the_address_is_refused_each_time_whoever_asks(client: FlaskClient, name: str, path: str) -> None:
    for headers in (as_("reader"), as_("reader"), {}):
        answer = client.get(f"{path}?{name}=secret&zone=1", headers=headers)
        assert (answer.status_code, answer.json["type"]) == (400, "/docs/problems/key-in-query")
        assert answer.json["errors"][0]["parameter"] == name
        assert "`Authorization: Bearer" in told(answer)


def test_what_one_path_takes_another_does_not_and_a_key_is_asked_for_each_time(client: FlaskClient) -> None:
    """What a path was asked before is remembered, for that path alone."""
    for _ in range(2):
        assert client.get("/v1/trays?limit=1", headers=as_("reader")).status_code == 200
        assert client.get("/v1/trays/a?limit=1", headers=as_("reader")).status_code == 422
        assert client.get("/v1/trays?limit=1").status_code == 401
        assert client.get("/v1/trays?limit=1", headers=as_("unknown")).status_code == 401


def test_who_may_not_call_is_told_that_and_nothing_of_the_parameters(client: FlaskClient) -> None:
    body = {"cut": "cap", "weight_kg": "1"}
    assert client.post("/v1/trays/Bad_Code/labels/1?x=1", json=body).status_code == 401
    assert client.post("/v1/trays/Bad_Code/labels/1?x=1", json=body, headers=as_("reader")).status_code == 403
    assert client.post("/v1/trays/Bad_Code/labels/1?x=1", json=body, headers=as_("chef")).status_code == 422
    outside = a_client(authenticate=lambda _secret: Who("s1", "Stranger", frozenset({"menu:write"})))
    for asking, status in ((client.get("/v1/trays?limit=0&colour=red"), 401),
                           (outside.get("/v1/trays?limit=0&colour=red", headers=as_("any")), 403)):
        assert (asking.status_code, "errors" in asking.json) == (status, False)
        assert "limit" not in asking.text


@pytest.mark.parametrize(("path", "name", "code", "words"), [
    ("/v1/trays?limt=1", "limt", "unknown-parameter", "there are as_of, cursor, lidded, limit."),
    ("/v1/trays/a?x=1", "x", "unknown-parameter", "there are none here."),
    ("/v1/trays?" + "y" * 100 + "=1", "y" * 64, "unknown-parameter", "'" + "y" * 64 + "'; there are "),
    ("/v1/trays?limit=1&limit=2&limit=3", "limit", "repeated-parameter", "given 3 times")])
def test_a_parameter_that_is_none_is_named_with_those_that_are(
        client: FlaskClient, path: str, name: str, code: str, words: str) -> None:
    answer = client.get(path, headers=as_("reader"))
    [fault] = answer.json["errors"]
    assert (answer.status_code, fault["parameter"], fault["code"]) == (422, name, code)
    assert (answer.json["type"], answer.json["parameter"]) == (f"/docs/problems/{code}", name)
    assert answer.json["detail"] == fault["detail"]
    assert words in fault["detail"]
    assert code == "repeated-parameter" or is_a_sentence(fault["detail"])


@pytest.mark.parametrize(("query", "faults"), [
    ("colour=red&as_of=yesterday&limit=0",
     [("limit", "out-of-range"), ("as_of", "not-a-date"), ("colour", "unknown-parameter")]),
    ("limt=5&as_of=2026-03-01&as_of=never&limit=0&cursor=",
     [("limit", "out-of-range"), ("cursor", "wrong-cursor"), ("as_of", "repeated-parameter"),
      ("limt", "unknown-parameter")]),
    ("limt=5&colour=red&limit=1&limit=2",
     [("limit", "repeated-parameter"), ("limt", "unknown-parameter"), ("colour", "unknown-parameter")])])
def test_all_that_is_wrong_with_a_query_is_told_at_once_in_the_order_of_its_parameters(
        client: FlaskClient, query: str, faults: list[tuple[str, str]]) -> None:
    answer = client.get(f"/v1/trays?{query}", headers=as_("reader"))
    assert [(fault["parameter"], fault["code"]) for fault in answer.json["errors"]] == faults
    assert (answer.status_code, answer.json["type"]) == (422, "/docs/problems/refused")
    assert answer.json["detail"].startswith(f"{len(faults)} things are wrong")
    assert "parameter" not in answer.json


def test_a_list_that_is_given_twice_is_looked_at_as_one() -> None:
    seen: list[Any] = []
    args = MultiDict([("codes", "cap"), ("colour", "red"), ("codes", "chuck,eye")])
    with pytest.raises(Refused) as refused:
        hold_to_parameters({"codes": True}, args, lambda given: seen.append(given) or ())
    assert seen == [{"codes": "cap,chuck,eye"}]
    assert [fault.more["parameter"] for fault in refused.value.faults] == ["colour"]


def test_of_very_many_faults_of_a_query_a_hundred_are_told_and_wrong_values_first(client: FlaskClient) -> None:
    many = "&".join(f"x{number}=1" for number in range(MOST_TOLD))
    answer = client.get(f"/v1/trays?{many}&limit=0", headers=as_("reader"))
    assert [fault["parameter"] for fault in answer.json["errors"]] == [
        "limit", *(f"x{number}" for number in range(MOST_TOLD - 1))]
    assert answer.json["detail"].startswith(f"{MOST_TOLD} things, or more, are wrong")


@pytest.mark.parametrize(("method", "path", "status", "code"), [
    ("GET", "/v1/trays/Bad_Code", 404, None), ("PUT", "/v1/trays/Bad_Code", 422, "not-a-code"),
    ("POST", "/v1/trays/Bad_Code/labels/1", 422, "not-a-code")])
def test_a_code_that_cannot_be_is_no_path_or_told_where_it_is_to_be_recorded(
        client: FlaskClient, method: str, path: str, status: int, code: str | None) -> None:
    answer = client.open(path, method=method, json=a_tray() if code else None, headers=as_("chef"))
    assert answer.status_code == status
    assert "'Bad_Code' is not a code" in answer.text
    if code is not None:
        [fault] = answer.json["errors"]
        assert (fault["parameter"], fault["code"]) == ("code", code)


def test_what_is_served_nowhere_needs_no_key_to_be_told_so(client: FlaskClient) -> None:
    assert client.get("/v1/nowhere").status_code == 404
    assert client.patch("/v1/trays/a").status_code == 405


def test_a_gate_that_was_put_up_a_moment_ago_asks_all_of_this() -> None:
    """In one test, since the gate is put up with the application, which the others share."""
    seen: list[Any] = []
    client = a_client(seen=seen)
    for challenged in (client.get("/v1/trays/a"), client.get("/v1/trays/a", headers={"Cookie": "other=x"})):
        assert (challenged.status_code, len(challenged.headers.getlist("WWW-Authenticate"))) == (401, 2)
        assert "`Authorization: Bearer <key>`" in told(challenged)
    assert client.get("/v1/trays?limit=1", headers=as_("reader")).status_code == 200
    assert client.get("/v1/trays?limt=1", headers=as_("reader")).status_code == 422
    assert len(client.get("/v1/trays?limt=1&limit=0", headers=as_("reader")).json["errors"]) == 2
    assert client.post("/session", json={"key": "chef"}, base_url="http://localhost").status_code == 200
    assert client.get("/v1/trays/a").status_code == 200, "by the session's cookie"
    body = {"cut": "cap", "weight_kg": "1"}
    assert client.post("/v1/trays/a/labels/1", json=body, headers=as_("chef")).status_code == 201
    assert seen[-1].key_id == "c1", "the view is told who asks"
    assert client.post("/v1/trays/Bad_Code/labels/1", json=body, headers=as_("chef")).status_code == 422


def broken(_secret: str) -> Who | None:
    raise RuntimeError


@pytest.mark.parametrize("by_token", [None, broken])
def test_who_cannot_be_asked_lets_nobody_in(by_token: Callable[[str], Any] | None) -> None:
    client = a_client(authenticate=broken, by_token=by_token)
    assert [read(client, f"Bearer {secret}").status_code for secret in ("reader", TOKEN)] == [500, 500]
