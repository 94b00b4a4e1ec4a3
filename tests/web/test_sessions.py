"""Signing in to the pages, over a real gunicorn: the cookie, what it opens, and what it never does.

Sources: RFC 6265bis (cookie attributes, `__Host-`), RFC 6750; Fetch Metadata for Sec-Fetch-Site; OWASP ASVS 5.0.0,
chapters 3.3 and 3.5 (from memory).
"""

import re
from base64 import urlsafe_b64decode
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import requests

from tests.stories.running_service import WEDNESDAY, RunningService, a_key
from tests.web.signed import TOKEN, Signed, named, sign_in

PLAIN, HOST = "seamcost-session", "__Host-seamcost-session"
SUPPLIER = {"name": "Fenmoor Larder"}


@pytest.fixture
def admin_key(service: RunningService) -> str:
    return a_key(service.settings, "admin")


@pytest.fixture
def at_noon(service: RunningService) -> Iterator[RunningService]:
    """The service, whose clock is put back afterwards."""
    yield service
    service.move_to(WEDNESDAY)


@pytest.fixture
def signed(service: RunningService, admin_key: str) -> Signed:
    return Signed(service, admin_key)


def slug(answer: requests.Response) -> str:
    return str(answer.json()["type"].rpartition("/")[2])


def test_the_cookie_is_for_no_script_and_no_other_site(service: RunningService, admin_key: str) -> None:
    answer = sign_in(service, admin_key)
    name, *attributes = re.split("; ?", answer.headers["Set-Cookie"])
    assert name.startswith(f"{PLAIN}=")
    assert {each.lower() for each in attributes} == {"httponly", "path=/", "samesite=strict"}
    assert answer.headers["Cache-Control"] == "no-store"
    assert {"signed_in": True, "name": "admin"}.items() <= answer.json().items()
    assert "prices:approve" in answer.json()["scopes"]


@pytest.mark.parametrize("forwarded", ["https", "HTTPS", "https, http"])
def test_by_tls_the_cookie_is_secure_and_bound_to_its_host(
        service: RunningService, admin_key: str, forwarded: str) -> None:
    told = sign_in(service, admin_key, X_Forwarded_Proto=forwarded).headers["Set-Cookie"]
    assert told.startswith(f"{HOST}=")
    assert "; Secure" in told
    assert "Domain" not in told


def test_by_tls_a_cookie_without_the_prefix_is_not_read(signed: Signed) -> None:
    assert signed.ask("GET", "/v1/suppliers", X_Forwarded_Proto="https").status_code == 401
    signed.cookies = {HOST: signed.cookies[PLAIN]}
    assert signed.ask("GET", "/v1/suppliers", X_Forwarded_Proto="https").status_code == 200
    assert signed.ask("GET", "/v1/suppliers").status_code == 401


def test_the_cookie_is_not_the_key_and_does_not_show_it(service: RunningService, admin_key: str) -> None:
    first, second = (Signed(service, admin_key).cookies[PLAIN] for _ in range(2))
    assert first != second
    raw = urlsafe_b64decode(first + "=" * (-len(first) % 4))
    assert admin_key[-20:].encode() not in raw
    bearer = {"Authorization": f"Bearer {first}"}
    as_bearer = requests.get(f"{service.address}/v1/suppliers", headers=bearer, timeout=30)
    assert as_bearer.status_code == 401


@pytest.mark.parametrize("body", [
    {}, {"key": ""}, {"key": "  "}, {"key": 5}, {"key": ["x"]}, [], "x"])
def test_a_body_without_a_key_is_told_where_it_goes(service: RunningService, body: Any) -> None:
    answer = requests.post(f"{service.address}/session", json=body, timeout=30)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#/key")
    assert "Set-Cookie" not in answer.headers


def test_a_wrong_key_is_told_in_the_same_words_whatever_is_wrong_with_it(service: RunningService) -> None:
    revoked = a_key(service.settings, "read")
    service.admin.ask("DELETE", f"/v1/keys/{revoked.split('_')[1]}")
    wrong = [revoked, "seam_00000000_" + "A" * 43, "x", "a b", "é", "x" * 3000]
    answers = [sign_in(service, key) for key in wrong]
    told = {(answer.status_code, answer.json()["type"], answer.json()["detail"]) for answer in answers}
    assert told == {
        (401, "/docs/problems/not-authenticated", "The key is not valid: it is unknown, expired or revoked.")}
    assert not [answer for answer in answers if "Set-Cookie" in answer.headers]
    assert not [key for key, answer in zip(wrong[:2], answers, strict=False) if key in answer.text]


def test_blanks_around_a_pasted_key_are_no_part_of_it(service: RunningService, admin_key: str) -> None:
    assert sign_in(service, f" {admin_key}\n").status_code == 200


def test_a_plain_form_signs_in_and_out_and_is_sent_on(service: RunningService, admin_key: str) -> None:
    entered = requests.post(f"{service.address}/session", data={"key": admin_key}, timeout=30, allow_redirects=False)
    assert (entered.status_code, entered.headers["Location"]) == (303, "/")
    left = requests.post(f"{service.address}/session/end", cookies=entered.cookies, timeout=30, allow_redirects=False)
    assert (left.status_code, left.headers["Location"]) == (303, "/")
    assert "Max-Age=0" in left.headers["Set-Cookie"]


def test_a_key_in_the_address_is_refused_also_when_signing_in(service: RunningService, admin_key: str) -> None:
    answer = requests.post(f"{service.address}/session?key={admin_key}", timeout=30)
    assert (answer.status_code, slug(answer)) == (400, "key-in-query")


@pytest.mark.parametrize("body", [b"key=" + b"x" * 5000, b"&" * 4000, b"\xff\xfe", b""])
def test_a_form_that_is_none_is_refused_without_a_fault_of_ours(service: RunningService, body: bytes) -> None:
    answer = requests.post(f"{service.address}/session", data=body, timeout=30,
                           headers={"Content-Type": "application/x-www-form-urlencoded"})
    assert answer.status_code in (413, 422)


def test_a_session_reads_what_its_key_may_read(service: RunningService) -> None:
    narrow = Signed(service, a_key(service.settings, "costs:read"))
    assert narrow.ask("GET", "/v1/dish-costs").status_code == 200
    assert (narrow.ask("GET", "/v1/suppliers").status_code, slug(narrow.ask("GET", "/v1/suppliers"))) == (
        403, "not-allowed")
    assert "Cookie" in narrow.ask("GET", "/v1/dish-costs").headers["Vary"]


@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_what_only_reads_needs_no_proof(signed: Signed, method: str) -> None:
    assert signed.ask(method, "/v1/suppliers").status_code == 200


def test_a_change_needs_the_page_s_token(signed: Signed) -> None:
    refused = signed.ask("PUT", "/v1/suppliers/no-token", SUPPLIER)
    assert (refused.status_code, slug(refused)) == (403, "cross-site-request")
    assert refused.json()["errors"][0]["header"] == TOKEN
    assert signed.ask("GET", "/v1/suppliers/no-token").status_code == 404
    assert signed.change("/v1/suppliers/with-token", SUPPLIER).status_code == 201


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize("path", ["/v1/suppliers/x", "/v1/keys", "/v1/ingredients/x/prices"])
def test_no_unsafe_method_gets_through_without_proof(signed: Signed, method: str, path: str) -> None:
    assert signed.ask(method, path, {}).status_code in (403, 405)


def test_the_token_is_bound_to_the_key(service: RunningService, signed: Signed) -> None:
    other = Signed(service, a_key(service.settings, "admin"))
    crossed = signed.change("/v1/suppliers/crossed", SUPPLIER, **{TOKEN: other.about["page_token"]})
    assert (crossed.status_code, slug(crossed)) == (403, "cross-site-request")
    again = Signed(service, a_key(service.settings, "admin"))
    assert again.about["page_token"] not in (other.about["page_token"], signed.about["page_token"])


@pytest.mark.parametrize("headers", [
    {"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"},
    {"Origin": "http://localhost"}, {"Origin": "nonsense"}, {"Sec_Fetch_Site": "cross-site"},
    {"Sec_Fetch_Site": "same-site"}, {"Sec_Fetch_Site": "none"},
])
def test_another_site_is_refused_although_it_has_the_token(signed: Signed, headers: dict[str, str]) -> None:
    refused = signed.change("/v1/suppliers/stranger", SUPPLIER, **headers)
    assert (refused.status_code, slug(refused)) == (403, "cross-site-request")


@pytest.mark.parametrize("headers", [{"Origin": "https://elsewhere.example"}, {"Sec_Fetch_Site": "cross-site"}])
@pytest.mark.parametrize(("method", "path"), [("POST", "/session"), ("DELETE", "/session"), ("POST", "/session/end")])
def test_another_site_signs_nobody_in_or_out(
        service: RunningService, admin_key: str, method: str, path: str, headers: dict[str, str]) -> None:
    answer = requests.request(method, service.address + path, json={"key": admin_key}, headers=named(headers),
                              timeout=30)
    assert (answer.status_code, slug(answer)) == (403, "cross-site-request")
    assert "Set-Cookie" not in answer.headers


def test_the_service_s_own_page_is_let_through(signed: Signed) -> None:
    ours = {"Origin": signed.address, "Sec_Fetch_Site": "same-origin"}
    assert signed.change("/v1/suppliers/own-page", SUPPLIER, **ours).status_code == 201


def test_behind_a_proxy_that_speaks_tls_only_the_secure_page_is_ours(signed: Signed) -> None:
    signed.cookies = {HOST: signed.cookies[PLAIN]}
    behind = {"X_Forwarded_Proto": "https", "Host": "kitchen.example"}
    told = signed.change("/v1/suppliers/tls", SUPPLIER, Origin="https://kitchen.example", **behind)
    assert told.status_code == 201
    plain = signed.change("/v1/suppliers/tls-2", SUPPLIER, Origin="http://kitchen.example", **behind)
    assert (plain.status_code, slug(plain)) == (403, "cross-site-request")


def test_a_bearer_key_needs_no_proof_and_goes_before_a_cookie(service: RunningService, signed: Signed) -> None:
    reader = {"Authorization": f"Bearer {a_key(service.settings, 'read')}"}
    writer = {"Authorization": f"Bearer {a_key(service.settings, 'admin')}"}
    foreign = {"Origin": "https://elsewhere.example", "Sec_Fetch_Site": "cross-site"}
    assert signed.ask("PUT", "/v1/suppliers/by-bearer", SUPPLIER, **writer, **foreign).status_code == 201
    assert signed.ask("PUT", "/v1/suppliers/by-reader", SUPPLIER, **reader).status_code == 403
    assert signed.ask("GET", "/v1/suppliers", Authorization="Bearer wrong").status_code == 401


def test_revoking_the_key_ends_its_sessions_in_every_worker(service: RunningService) -> None:
    key = a_key(service.settings, "read")
    signed = Signed(service, key)
    assert [signed.ask("GET", "/v1/suppliers").status_code for _ in range(4)] == [200] * 4
    assert service.admin.ask("DELETE", f"/v1/keys/{key.split('_')[1]}").status_code == 204
    answers = [signed.ask("GET", "/v1/suppliers") for _ in range(8)]
    assert {(answer.status_code, answer.json()["detail"]) for answer in answers} == {
        (401, "The session has ended: sign in again.")}
    told = signed.ask("GET", "/session")
    assert (told.status_code, told.json()) == (200, {"signed_in": False})
    assert "Max-Age=0" in told.headers["Set-Cookie"]


@pytest.mark.parametrize(("hours", "status"), [(11, 200), (13, 401)])
def test_a_session_ends_after_twelve_hours_whatever_the_browser_keeps(
        at_noon: RunningService, hours: int, status: int) -> None:
    signed = Signed(at_noon, a_key(at_noon.settings, "read"))
    clock = at_noon.settings.clock_file
    assert clock is not None
    fresh = clock.with_suffix(".later")
    fresh.write_text(str(int(clock.read_text()) + timedelta(hours=hours) // timedelta(seconds=1)))
    fresh.replace(clock)
    assert signed.ask("GET", "/v1/suppliers").status_code == status


def test_a_cookie_that_was_changed_or_made_up_opens_nothing(signed: Signed) -> None:
    good = signed.cookies[PLAIN]
    for place in range(0, len(good), 7):
        other = "A" if good[place] != "A" else "B"
        signed.cookies = {PLAIN: good[:place] + other + good[place + 1:]}
        assert signed.ask("GET", "/v1/suppliers").status_code == 401, place
    for made_up in ("", "x", "A" * 200, "A" * 5000, good[:-4], good * 2, "%00"):
        signed.cookies = {PLAIN: made_up}
        assert signed.ask("GET", "/v1/suppliers").status_code == 401, made_up


def test_who_is_signed_in_is_told_with_the_token_and_never_with_the_key(signed: Signed, admin_key: str) -> None:
    told = signed.ask("GET", "/session")
    assert told.json() == signed.about
    assert admin_key not in told.text
    assert requests.get(f"{signed.address}/session", timeout=30).json() == {"signed_in": False}


def test_the_key_is_in_no_log(service: RunningService, signed: Signed, admin_key: str) -> None:
    signed.ask("PUT", "/v1/suppliers/no-proof", SUPPLIER)
    assert service.settings.clock_file is not None
    log = service.settings.clock_file.with_name("log").read_text(errors="replace")
    assert "Booting worker" in log
    assert admin_key not in log
    assert signed.cookies[PLAIN] not in log
