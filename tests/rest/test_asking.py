"""Who asks, and the Idempotency-Key that came with it.

Source: the Idempotency-Key draft of the IETF HTTPAPI group (a quoted string; that the bare form is read too is ours).
The fingerprints were computed with `sha256sum`: they are kept, so the next release has to come to the same.
"""

import pytest
from flask import g

from service.rest.asking import asker, note_idempotency_key
from service.rest.http_faults import MalformedRequest
from service.use_cases.ports import Asker, Idempotency
from tests.plain_words import is_a_sentence
from tests.rest.trays import CALLERS, the_app

TARGET, ROUTE = "/v1/trays/a/labels/1?b=1", "POST /v1/trays/a/labels/1"
OF_THE_BODY = "fa66b20a6f7236c9a81532768bfec67bcb8d58261caa6f880277b4c387e9995f"
"""`printf '/v1/trays/a/labels/1?b=1\\n{"cut":"a"}' | sha256sum`"""
OF_NO_BODY = "5c2c109080301809073f382584a16813ca2b5c0095edde35a8c676c5d1a4fabb"


def asked(key: str | None, body: bytes | None = b'{"cut":"a"}', target: str = TARGET, method: str = "POST") -> Asker:
    """Who asks, as the use case gets it."""
    headers = {} if key is None else {"Idempotency-Key": key}
    with the_app().test_request_context(target, method=method, headers=headers):
        g.caller, g.request_id = CALLERS["chef"], "request-7"
        if body is not None:
            g.body = body
        note_idempotency_key()
        return asker()


def test_who_asks_is_the_key_by_its_id_with_the_request_s_own() -> None:
    assert asked(None) == Asker("c1", "Chef", "request-7", None)


@pytest.mark.parametrize("written", ['"abc-1"', "abc-1", ' "abc-1" ', " abc-1\t"])
def test_a_repeat_is_known_by_the_key_the_route_and_the_fingerprint(written: str) -> None:
    assert asked(written).idempotency == Idempotency("abc-1", ROUTE, OF_THE_BODY)


def test_another_body_target_or_method_is_another_request() -> None:
    whole = asked("k").idempotency
    others = [asked("k", b'{"cut":"b"}').idempotency, asked("k", target=TARGET + "1").idempotency,
              asked("k", target="/v1/trays/b/labels/1?b=1").idempotency, asked("k", method="PUT").idempotency]
    assert len({whole, *others}) == 5
    assert asked("k", b"").idempotency == asked("k", None).idempotency == Idempotency("k", ROUTE, OF_NO_BODY)


def test_a_query_that_is_no_utf_8_has_its_fingerprint_too() -> None:
    """gunicorn refuses one; another server hands it on as it came (PEP 3333: bytes as if they were Latin-1)."""
    prints = set()
    for query in ("b=\xff", "b=\xfe", "b=\xed\xa0\x80", "b=%ff"):
        with the_app().test_request_context("/v1/trays/a/labels/1", method="POST", headers={"Idempotency-Key": "k"},
                                            environ_overrides={"QUERY_STRING": query}):
            g.caller, g.request_id = CALLERS["chef"], "request-7"
            note_idempotency_key()
            told = asker().idempotency
            assert told is not None
            prints.add(told.fingerprint)
    assert len(prints) == 4


@pytest.mark.parametrize("key", ["!", "k" * 128, "#~", "a'b"])
def test_a_key_has_1_to_128_visible_characters(key: str) -> None:
    for written in (key, f'"{key}"'):
        told = asked(written).idempotency
        assert told is not None
        assert told.key == key


@pytest.mark.parametrize("key", ["", " ", '""', '"', 'a"b', '"a', "a b", '"a b"', "k" * 129, f'"{"k" * 129}"', "\u00e9",
                                 "a\x7f"])
def test_what_is_none_is_refused_by_the_field_s_name(key: str) -> None:
    with pytest.raises(MalformedRequest) as refused:
        asked(key)
    assert refused.value.more == {"header": "Idempotency-Key", "error_code": "malformed-header"}
    assert is_a_sentence(refused.value.detail)
