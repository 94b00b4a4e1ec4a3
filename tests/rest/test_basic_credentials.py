"""Keys by Basic. Sources: RFC 7617 section 2 (its own example) and 2.1 (UTF-8); RFC 9110 sections 11.6.1 and 11.6.2.

The credentials are made by `requests`, and what is asked for is read by werkzeug: neither shares code with the service.
"""

from base64 import b64encode
from types import SimpleNamespace
from typing import Any

import pytest
from requests.auth import _basic_auth_str
from werkzeug.datastructures import WWWAuthenticate

from service.rest.basic_credentials import key_by_basic
from service.rest.http_faults import MalformedRequest, NotAuthenticated
from tests.plain_words import is_a_sentence
from tests.rest.trays import a_client, a_tray

GET: Any = SimpleNamespace(method="GET", environ={})


def by_basic(user: str, password: str) -> dict[str, str]:
    return {"Authorization": _basic_auth_str(user, password)}


def asked_for(answer: Any) -> list[WWWAuthenticate]:
    return [found for field in answer.headers.getlist("WWW-Authenticate")
            if (found := WWWAuthenticate.from_header(field)) is not None]


@pytest.mark.parametrize("user", ["", "r1", "anything", "müller"])
def test_the_password_is_the_key_whatever_the_user_name(user: str) -> None:
    credentials = b64encode(f"{user}:reader".encode()).decode()
    assert a_client().get("/v1/trays/a", headers={"Authorization": f"Basic {credentials}"}).status_code == 200
    assert a_client().get("/v1/trays/a", headers=by_basic("r1", "reader")).status_code == 200


def test_the_standard_s_own_examples_are_read_as_it_says() -> None:
    assert key_by_basic("QWxhZGRpbjpvcGVuIHNlc2FtZQ==", GET) == "open sesame"
    assert key_by_basic("dGVzdDoxMjPCow==", GET) == "123£"


def test_the_scheme_s_name_is_read_in_any_case_and_a_key_may_hold_colons_no_more_than_as_a_bearer() -> None:
    field = by_basic("", "reader")["Authorization"].replace("Basic", "bAsIc")
    assert a_client().get("/v1/trays/a", headers={"Authorization": field}).status_code == 200
    assert a_client().get("/v1/trays/a", headers=by_basic("", "reader:x")).status_code == 401


def test_a_scope_that_is_missing_is_told_in_the_same_words() -> None:
    told = [a_client().put("/v1/trays/a", json=a_tray(), headers=headers)
            for headers in (by_basic("", "reader"), {"Authorization": "Bearer reader"})]
    assert [answer.status_code for answer in told] == [403, 403]
    assert told[0].json | {"request_id": ""} == told[1].json | {"request_id": ""}


def test_an_unknown_key_is_told_in_the_same_words_and_asked_for_by_basic() -> None:
    basic = a_client().get("/v1/trays/a", headers=by_basic("till", "unknown"))
    bearer = a_client().get("/v1/trays/a", headers={"Authorization": "Bearer unknown"})
    assert basic.json | {"request_id": ""} == bearer.json | {"request_id": ""}
    assert basic.status_code == 401
    assert [(each.type, each.get("realm"), each.get("charset")) for each in asked_for(basic)] == [
        ("basic", "seamcost", "UTF-8")]


def test_without_a_key_both_are_asked_for_but_a_browser_is_never_asked_for_a_password() -> None:
    assert [each.type for each in asked_for(a_client().get("/v1/trays/a"))] == ["bearer", "basic"]
    browser = {"User-Agent": "Mozilla/5.0 (X11; Linux x86_64) Gecko/20100101"}
    for told in ({}, by_basic("till", "unknown"), by_basic("reader", ""), {"Authorization": "Digest x"}):
        answer = a_client().get("/v1/trays/a", headers=browser | told)
        assert (answer.status_code, [each.type for each in asked_for(answer)]) == (401, ["bearer"])


@pytest.mark.parametrize(("credentials", "words"), [
    ("%%%", "base64"), ("cmVhZGVy", "colon"), (b64encode(b"u:\xff").decode(), "UTF-8"), ("dTpr\u00e9", "base64"),
    (b64encode(b"u:rea\nder").decode(), "control"), ("A" * 2000, "longer"), ("", "colon")])
def test_credentials_that_are_none_are_400_and_name_the_field(credentials: str, words: str) -> None:
    answer = a_client().get("/v1/trays/a", headers={"Authorization": f"Basic {credentials}"})
    assert (answer.status_code, answer.json["errors"][0]["header"]) == (400, "Authorization")
    assert words in answer.json["detail"]
    assert "Bearer" in answer.json["detail"]


def basic(content: bytes) -> str:
    return b64encode(content).decode()


def test_the_first_colon_ends_the_user_name_and_the_password_is_all_the_rest() -> None:
    """RFC 7617 section 2: a user name has no colon, a password may."""
    assert key_by_basic(basic(b"till:a:b:"), GET) == "a:b:"
    assert key_by_basic(f"  {basic(b'till:a')}  ", GET) == "a"
    assert key_by_basic("Xzph", GET) == "a", "the letters of base64 are no blanks"


@pytest.mark.parametrize(("credentials", "words"), [
    ("%%%", "is not base64 of"), ("dTpyZWFk!ZXI=", "is not base64 of"), ("dTpyZWFk ZXI=", "is not base64 of"),
    ("\tdTph", "is not base64 of"), ("dTph\xa0", "is not base64 of"),

    (basic(b"u:\xff"), "is not base64 of"), (basic(b"reader"), "no colon"), (basic(b"u:a\x7f"), "control"),
    (basic(b"u:" + b"k" * 767), "longer than 1024")])
def test_what_is_wrong_with_them_is_said_in_a_sentence(credentials: str, words: str) -> None:
    with pytest.raises(MalformedRequest) as refused:
        key_by_basic(credentials, GET)
    assert words in refused.value.detail
    assert is_a_sentence(refused.value.detail)
    assert refused.value.more == {"header": "Authorization", "error_code": "malformed-header"}


def test_without_a_password_it_is_asked_for_by_basic_also_of_who_does_not_say_what_program_it_is() -> None:
    for agent, challenge in (({}, "Basic"), ({"HTTP_USER_AGENT": "Mozilla/5.0"}, "Bearer")):
        with pytest.raises(NotAuthenticated) as refused:
            key_by_basic(basic(b"reader:"), SimpleNamespace(method="GET", environ=agent))  # type: ignore[arg-type]
        assert [each.partition(" ")[0] for each in refused.value.more["challenge"]] == [challenge]


def test_credentials_of_1024_characters_are_read() -> None:
    longest = basic(b"u:" + b"k" * 766)
    assert (len(longest), key_by_basic(longest, GET)) == (1_024, "k" * 766)


def test_a_key_given_as_the_user_name_is_told_where_it_belongs() -> None:
    answer = a_client().get("/v1/trays/a", headers=by_basic("reader", ""))
    assert (answer.status_code, "password" in answer.json["detail"]) == (401, True)
    assert is_a_sentence(answer.json["detail"])
    assert [each.type for each in asked_for(answer)] == ["basic"]


@pytest.mark.parametrize(("headers", "status"), [
    ({}, 200), ({"Sec-Fetch-Site": "same-origin"}, 200), ({"Sec-Fetch-Site": "cross-site"}, 403),
    ({"Origin": "https://elsewhere.example"}, 403)])
def test_a_browser_that_keeps_a_password_changes_nothing_for_another_site(
    headers: dict[str, str], status: int
) -> None:
    answer = a_client().put("/v1/trays/a", json=a_tray(), headers=by_basic("", "chef") | headers)
    assert answer.status_code == status
    assert a_client().get("/v1/trays/a", headers=by_basic("", "chef") | headers).status_code == 200
