"""How much a key may ask, over HTTP: the fields that say so, and what happens above it.

Sources: draft-ietf-httpapi-ratelimit-headers-11, sections 3, 4, 5.1 and 6; RFC 9651 for the grammar of the fields, read
here by a parser of another hand (http-sf); RFC 6585 section 4; RFC 9111 section 5.2.2.5.
"""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from flask.testing import FlaskClient
from http_sf import parse
from werkzeug.datastructures import Headers

from service.use_cases.allowances import Allowances
from tests.bookings import BookedInMemory
from tests.conftest import SettableClock
from tests.rest.trays import CALLERS, a_client, a_tray, as_

TEN_PAST = datetime(2026, 3, 2, 10, 0, 10, tzinfo=UTC)


def a_limited_client(per_minute: int, clock: SettableClock) -> FlaskClient:
    """A client of the trays, where every key has this allowance."""
    callers = {secret: replace(who, requests_per_minute=per_minute) for secret, who in CALLERS.items()}
    return a_client(authenticate=callers.get, allowances=Allowances(BookedInMemory(), clock))


@pytest.fixture
def clock() -> SettableClock:
    return SettableClock(TEN_PAST)


def fields(headers: Headers) -> tuple[dict[str, object], dict[str, object]]:
    """The policy and what is left, parsed as lists of one string with parameters."""
    read = []
    for name in ("RateLimit-Policy", "RateLimit"):
        ((policy, parameters),) = parse(headers[name].encode("ascii"), tltype="list")
        assert policy == "minute"
        read.append(dict(parameters))
    return read[0], read[1]


def test_every_answer_to_a_key_tells_the_policy_and_what_is_left(clock: SettableClock) -> None:
    client = a_limited_client(100, clock)
    left = []
    for path, status in (("/v1/trays/a", 200), ("/v1/trays/a?x=1", 422), ("/v1/trays/Not_A_Code", 404),
                         ("/v1/trays?api_key=x", 400)):
        answer = client.get(path, headers=as_("reader"))
        assert answer.status_code == status
        if status != 400:
            policy, now = fields(answer.headers)
            assert policy == {"q": 100, "w": 60}
            assert now["t"] == 50
            left.append(now["r"])
    assert left == [99, 98, 97]
    assert fields(client.put("/v1/trays/a", json=a_tray(), headers=as_("reader")).headers)[1]["r"] == 96, "a 403 too"


def test_an_answer_of_304_counts_a_tenth(clock: SettableClock) -> None:
    client = a_limited_client(100, clock)
    tag = client.get("/v1/trays/a", headers=as_("reader")).headers["ETag"]
    for _ in range(20):
        answer = client.get("/v1/trays/a", headers=as_("reader", If_None_Match=tag))
        assert answer.status_code == 304
    assert fields(answer.headers)[1]["r"] == 97


def test_above_the_allowance_the_answer_is_429_until_retry_after_and_is_not_stored(clock: SettableClock) -> None:
    client = a_limited_client(3, clock)
    answers = [client.get("/v1/trays/a", headers=as_("reader")) for _ in range(4)]
    assert [answer.status_code for answer in answers] == [200, 200, 200, 429]
    refused = answers[3]
    assert refused.content_type == "application/problem+json"
    assert refused.json["type"] == "/docs/problems/quota-exceeded"
    assert refused.json["violated-policies"] == ["minute"]
    assert refused.headers["Cache-Control"] == "no-store"
    _, now = fields(refused.headers)
    assert now == {"r": 0, "t": 50}
    assert int(refused.headers["Retry-After"]) >= now["t"], "section 6: not before the end of the window"
    clock.move(seconds=int(refused.headers["Retry-After"]))
    assert client.get("/v1/trays/a", headers=as_("reader")).status_code == 200


def test_one_key_does_not_use_up_another_s(clock: SettableClock) -> None:
    client = a_limited_client(1, clock)
    assert [client.get("/v1/trays/a", headers=as_(who)).status_code for who in ("reader", "reader", "other")] == [
        200, 429, 200]


def test_what_needs_no_key_and_a_key_without_a_limit_tell_nothing_of_one(clock: SettableClock) -> None:
    for answer in (a_limited_client(5, clock).get("/health/live"), a_client().get("/v1/trays/a", headers=as_("reader")),
                   a_limited_client(5, clock).get("/v1/trays/a", headers=as_("nobody"))):
        assert not {"RateLimit", "RateLimit-Policy"} & set(answer.headers.keys())
