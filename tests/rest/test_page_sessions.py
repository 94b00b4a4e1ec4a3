"""A page's session without a server: the cookie and its name, what opens and ends it, the proof that a change needs.

Sources: RFC 6265bis, 4.1.3 (the `__Host-` prefix); Fetch Metadata for Sec-Fetch-Site; RFC 6454 section 4 for origins;
OpenSSL (`openssl dgst -sha256 -mac HMAC`) for the page token. The same over a real server: tests/web/test_sessions.py.
"""

from base64 import b64encode
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.conftest import SettableClock
from tests.plain_words import is_a_sentence
from tests.rest.trays import CALLERS, a_client, a_tray

TOKEN, PLAIN, HOST = "Seamcost-Page-Token", "seamcost-session", "__Host-seamcost-session"
OF_THE_CHEF = "d0eb2e7aa63a170d7c9c463c4a600663999bffb8fc9153f3b8fbac654d152433"
"""HMAC-SHA-256 of "page token", a line end and "c1", by OpenSSL, with the secret of the trays."""
HERE = "http://kitchen.example:8080"


AT_TEN = datetime(2026, 3, 2, 10, 0, 0, 700_000, UTC)


class Kitchen:
    """The application of the trays, made once, with a clock and keys that a test may change."""

    def __init__(self) -> None:
        self.clock, self.callers = SettableClock(AT_TEN), dict(CALLERS)
        app = a_client(clock=self.clock, authenticate=self.callers.get).application
        self.client = app.test_client(use_cookies=False)


@pytest.fixture(scope="module")
def kitchen() -> Kitchen:
    return Kitchen()


@pytest.fixture
def clock(kitchen: Kitchen) -> Iterator[SettableClock]:
    yield kitchen.clock
    kitchen.clock.now = AT_TEN


@pytest.fixture
def callers(kitchen: Kitchen) -> Iterator[dict[str, Any]]:
    yield kitchen.callers
    kitchen.callers.update(CALLERS)


@pytest.fixture
def client(kitchen: Kitchen) -> FlaskClient:
    return kitchen.client


def sign_in(client: FlaskClient, key: str = "chef", where: str = HERE, **headers: str) -> TestResponse:
    return client.post("/session", json={"key": key}, base_url=where, headers=named(headers))


def named(headers: dict[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in headers.items()}


def cookie(answer: TestResponse) -> str:
    """What a browser would send back."""
    return str(answer.headers["Set-Cookie"].partition(";")[0])


def keep(client: FlaskClient, sent: str, where: str = HERE, **headers: str) -> TestResponse:
    """A change by the session's cookie."""
    return client.put("/v1/trays/a", json=a_tray(), base_url=where, headers={"Cookie": sent} | named(headers))


def read(client: FlaskClient, sent: str, where: str = HERE, **headers: str) -> TestResponse:
    return client.get("/v1/trays/a", base_url=where, headers={"Cookie": sent} | named(headers))


def slug(answer: TestResponse) -> str:
    assert is_a_sentence(answer.json["detail"]), answer.json["detail"]
    return str(answer.json["type"].rpartition("/")[2])


def test_who_signs_in_is_told_who_they_are_until_when_and_the_page_s_token(client: FlaskClient) -> None:
    answer = sign_in(client)
    assert (answer.status_code, answer.content_type) == (200, "application/json")
    told = {"signed_in": True, "name": "Chef", "scopes": ["costs:read", "menu:write", "read"],
            "ends_at": "2026-03-02T22:00:00Z", "page_token": OF_THE_CHEF}
    assert answer.json == told
    again = client.get("/session", base_url=HERE, headers={"Cookie": cookie(answer)})
    assert (again.json, "Set-Cookie" in again.headers) == (told, False)
    nobody = client.get("/session", base_url=HERE)
    assert (nobody.json, "Set-Cookie" in nobody.headers) == ({"signed_in": False}, False)


@pytest.mark.parametrize(("where", "forwarded", "secure"), [
    (HERE, None, False), ("https://kitchen.example", None, True), (HERE, "https", True), (HERE, "HTTPS", True),
    (HERE, " https , http", True), (HERE, "http, https", False), (HERE, "http", False), (HERE, "", False),
    (HERE, "httpsx", False), ("https://kitchen.example", "http", True)])
def test_by_tls_the_cookie_is_bound_to_its_host_and_no_other_is_read(
        client: FlaskClient, where: str, forwarded: str | None, secure: bool) -> None:
    proxy = {} if forwarded is None else {"X_Forwarded_Proto": forwarded}
    answer = sign_in(client, where=where, **proxy)
    name, _, sealed = cookie(answer).partition("=")
    attributes = {each.strip() for each in answer.headers["Set-Cookie"].split(";")[1:]}
    assert name == (HOST if secure else PLAIN)
    assert attributes == {"HttpOnly", "Path=/", "SameSite=Strict"} | ({"Secure"} if secure else set())
    assert read(client, f"{name}={sealed}", where, **proxy).status_code == 200
    other = PLAIN if secure else HOST
    assert read(client, f"{other}={sealed}", where, **proxy).status_code == 401


def test_a_session_ends_after_twelve_hours_and_its_cookie_is_taken_away(
        client: FlaskClient, clock: SettableClock) -> None:
    sent = cookie(sign_in(client))
    clock.move(hours=11, minutes=59, seconds=59)
    assert read(client, sent).status_code == 200
    clock.move(seconds=1)
    ended = read(client, sent)
    assert (ended.status_code, slug(ended)) == (401, "not-authenticated")
    told = client.get("/session", base_url=HERE, headers={"Cookie": sent})
    assert (told.status_code, told.json, cookie(told)) == (200, {"signed_in": False}, f"{PLAIN}=")
    assert "Max-Age=0" in told.headers["Set-Cookie"]


def test_a_session_ends_with_its_key_at_the_next_request(client: FlaskClient, callers: dict[str, Any]) -> None:
    sent = cookie(sign_in(client))
    del callers["chef"]
    for ended in (read(client, sent), keep(client, sent, **{TOKEN: OF_THE_CHEF})):
        assert (ended.status_code, slug(ended)) == (401, "not-authenticated")
        assert "session has ended" in ended.json["detail"]
    callers["chef"] = CALLERS["reader"]
    assert read(client, sent).status_code == 200
    assert keep(client, sent, **{TOKEN: OF_THE_CHEF}).status_code == 403, "the token was another key's"


@pytest.mark.parametrize("made_up", ["", "x", "A" * 200, "chef"])
def test_a_cookie_that_was_made_up_opens_nothing(client: FlaskClient, made_up: str) -> None:
    assert read(client, f"{PLAIN}={made_up}").status_code == 401


def test_a_key_that_is_none_opens_no_session(client: FlaskClient) -> None:
    refused = sign_in(client, "unknown")
    assert (refused.status_code, slug(refused), "Set-Cookie" in refused.headers) == (401, "not-authenticated", False)


def test_what_only_reads_needs_no_proof_and_a_change_needs_the_page_s_own(client: FlaskClient) -> None:
    sent = cookie(sign_in(client))
    for method in ("GET", "HEAD"):
        assert client.open("/v1/trays/a", method=method, base_url=HERE, headers={"Cookie": sent}).status_code == 200
    assert keep(client, sent, **{TOKEN: OF_THE_CHEF}).status_code == 200
    for wrong in ({}, {TOKEN: ""}, {TOKEN: OF_THE_CHEF[:-1]}, {TOKEN: OF_THE_CHEF.upper()}, {TOKEN: "\u00e9"},
                  {TOKEN: sign_in(client, "reader").json["page_token"]}):
        refused = keep(client, sent, **wrong)
        assert (refused.status_code, slug(refused)) == (403, "cross-site-request"), wrong
        assert {name: refused.json["errors"][0][name] for name in ("header", "code")} == {
            "header": TOKEN, "code": "page-token"}


ORIGINS = [
    (HERE, "http://kitchen.example:8080", True), (HERE, "HTTP://KITCHEN.EXAMPLE:8080", True),
    (HERE, "http://kitchen.example", False), (HERE, "http://kitchen.example:80", False),
    (HERE, "http://kitchen.example:8081", False), (HERE, "http://other.example:8080", False),
    (HERE, "http://kitchen.example.other.example:8080", False), (HERE, "null", False), (HERE, "", False),
    (HERE, "ftp://kitchen.example:8080", False), (HERE, "kitchen.example:8080", False), (HERE, "http://[::1", False),
    (HERE, "http://kitchen.example:99999", False),
    ("http://kitchen.example", "http://kitchen.example", True),
    ("http://kitchen.example", "http://kitchen.example:80", True),
    ("http://kitchen.example", "http://kitchen.example:443", False),
    ("http://kitchen.example", "https://kitchen.example", True),
    ("https://kitchen.example", "https://kitchen.example", True),
    ("https://kitchen.example", "https://kitchen.example:443", True),
    ("https://kitchen.example", "https://kitchen.example:80", False),
    ("https://kitchen.example", "http://kitchen.example", False),
    ("https://kitchen.example:8443", "https://kitchen.example:8443", True),
    ("https://kitchen.example:8443", "https://kitchen.example", False),
]


@pytest.mark.parametrize(("where", "origin", "ours"), ORIGINS)
def test_a_change_comes_from_this_very_origin(client: FlaskClient, where: str, origin: str, ours: bool) -> None:
    """By cookie and by Basic; scheme, host and port, of which a scheme has one of its own (RFC 6454 section 4)."""
    sent = cookie(sign_in(client, where=where))
    basic = {"Authorization": "Basic " + b64encode(b"till:chef").decode(), "Origin": origin}
    asked = [keep(client, sent, where, Origin=origin, **{TOKEN: OF_THE_CHEF}),
             client.put("/v1/trays/a", json=a_tray(), base_url=where, headers=basic),
             sign_in(client, where=where, Origin=origin),
             client.delete("/session", base_url=where, headers={"Cookie": sent, "Origin": origin})]
    assert [answer.status_code for answer in asked] == ([200, 200, 200, 204] if ours else [403] * 4)
    if not ours:
        assert {slug(answer) for answer in asked} == {"cross-site-request"}
        assert not [answer for answer in asked if "Set-Cookie" in answer.headers]


def test_behind_a_proxy_the_page_of_plain_http_is_another(client: FlaskClient) -> None:
    proxy = {"X_Forwarded_Proto": "https", TOKEN: OF_THE_CHEF}
    sent = cookie(sign_in(client, where="http://kitchen.example", X_Forwarded_Proto="https"))
    for origin, status in (("https://kitchen.example", 200), ("http://kitchen.example", 403)):
        assert keep(client, sent, "http://kitchen.example", Origin=origin, **proxy).status_code == status


@pytest.mark.parametrize(("site", "status"), [
    ("same-origin", 200), ("same-site", 403), ("cross-site", 403), ("none", 403), ("", 403)])
def test_what_the_browser_says_of_where_it_comes_from_counts(client: FlaskClient, site: str, status: int) -> None:
    sent = cookie(sign_in(client))
    answer = keep(client, sent, Sec_Fetch_Site=site, **{TOKEN: OF_THE_CHEF})
    assert answer.status_code == status
    assert status == 200 or slug(answer) == "cross-site-request"
    assert read(client, sent, Sec_Fetch_Site=site).status_code == 200, "what reads changes nothing"


def test_another_key_s_cookie_counts_for_nothing_beside_an_authorization_field(client: FlaskClient) -> None:
    sent = cookie(sign_in(client))
    by_reader = client.put("/v1/trays/a", json=a_tray(), base_url=HERE, headers={
        "Cookie": sent, "Authorization": "Bearer reader", TOKEN: OF_THE_CHEF})
    assert (by_reader.status_code, by_reader.json["scope"]) == (403, "menu:write")
    assert read(client, sent, Authorization="Bearer unknown").status_code == 401
    assert read(client, sent, Authorization="").status_code == 401


@pytest.mark.parametrize(("asked", "sent_on"), [
    ("/prices?file=a", "/prices?file=a"), ("https://elsewhere.example/", "/"), ("//elsewhere.example", "/"),
    (None, "/")])
def test_a_form_signs_in_and_is_sent_on_within_the_service(
        client: FlaskClient, asked: str | None, sent_on: str) -> None:
    form = {"key": " chef\n"} | ({} if asked is None else {"next": asked})
    answer = client.post("/session", data=form, base_url=HERE)
    assert (answer.status_code, answer.headers["Location"], answer.data) == (303, sent_on, b"")
    assert read(client, cookie(answer)).status_code == 200


def test_signing_out_takes_the_cookie_and_what_the_browser_kept(client: FlaskClient) -> None:
    sent = {"Cookie": cookie(sign_in(client))}
    for method, path, status, where in (("DELETE", "/session", 204, None), ("POST", "/session/end", 303, "/")):
        answer = client.open(path, method=method, base_url=HERE, headers=sent)
        assert (answer.status_code, answer.headers.get("Location"), cookie(answer)) == (status, where, f"{PLAIN}=")
        assert {each.strip() for each in answer.headers["Set-Cookie"].split(";")[1:]} >= {
            "Max-Age=0", "HttpOnly", "Path=/", "SameSite=Strict"}
        assert answer.headers["Clear-Site-Data"] == '"cache"'


@pytest.mark.parametrize("body", [{}, {"key": ""}, {"key": "  "}, {"key": 5}, {"key": None}, {"key": ["chef"]},
                                  ["chef"], "chef"])
def test_a_body_without_a_key_is_told_where_it_goes(client: FlaskClient, body: Any) -> None:
    answer = client.post("/session", json=body, base_url=HERE)
    [fault] = answer.json["errors"]
    assert (answer.status_code, fault["pointer"], fault["code"]) == (422, "#/key", "required")
    assert is_a_sentence(fault["detail"])
    assert "Set-Cookie" not in answer.headers


def test_a_form_is_read_as_utf_8_or_as_no_key_and_only_so_much_of_it(client: FlaskClient) -> None:
    form = "application/x-www-form-urlencoded"
    for content, status in ((b"key=\xff\xfe", 401), (b"\xff\xfe", 422), (b"key=" + b"x" * 4_092, 401),
                            (b"key=" + b"x" * 4_093, 413)):
        answer = client.post("/session", data=content, content_type=form, base_url=HERE)
        assert answer.status_code == status, content[:9]
    for letters, status in ((4_096 - 10, 401), (4_096 - 9, 413)):
        body = b'{"key":"' + b"x" * letters + b'"}'
        assert client.post("/session", data=body, content_type="application/json", base_url=HERE).status_code == status
    assert client.post("/session", data=b"{}", content_type="text/plain", base_url=HERE).status_code == 415
