"""Bodies: whole, bounded, and JSON without its usual generosity. Sources: RFC 8259, RFC 7493 section 2.3, RFC 9110."""

import io
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.errors import Fault, Refused
from service.rest.http_faults import MalformedJson
from service.rest.json_numbers import NumberText
from service.rest.reading import BODY_LIMIT, parsed_json
from tests.rest.trays import a_client, a_tray, as_

CLIENT = a_client()


def put(body: bytes, **headers: str) -> Any:
    return CLIENT.put("/v1/trays/a", data=body, headers=as_("chef") | {"Content-Type": "application/json"} | headers)


def faults_of(body: bytes) -> list[Fault]:
    with pytest.raises(Fault) as caught:
        parsed_json(body)
    return list(caught.value.faults) if isinstance(caught.value, Refused) else [caught.value]


def as_plain(value: Any) -> Any:
    """Our values with their numbers as Python's own reader makes them."""
    if isinstance(value, NumberText):
        return json.loads(value.text)
    if isinstance(value, dict):
        return {name: as_plain(below) for name, below in value.items()}
    return [as_plain(below) for below in value] if isinstance(value, list) else value


TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)
NUMBERS = st.integers() | st.floats(allow_nan=False, allow_infinity=False)
JSON = st.recursive(st.none() | st.booleans() | NUMBERS | TEXT,
                    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4), max_leaves=20)


@given(JSON)
def test_plain_json_is_read_as_the_standard_library_reads_it(value: Any) -> None:
    body = json.dumps(value).encode()
    assert as_plain(parsed_json(body)) == json.loads(body)


def test_numbers_are_kept_as_they_were_written() -> None:
    assert parsed_json(b'[1.10, 1e400, 12345678901234567890123]') == [
        NumberText("1.10"), NumberText("1e400"), NumberText("12345678901234567890123")]


@pytest.mark.parametrize(("body", "pointer"), [
    (b'{"a": {"b": NaN}}', "#/a/b"), (b'{"a": [1, -Infinity]}', "#/a/1"),
    (b'{"x": {"a": 1, "a": 2}}', "#/x/a"),
    (b'{"a": "\\ud800"}', "#/a"), (b'{"a": ["\\u0000"]}', "#/a/0"), (b'{"a/b": Infinity}', "#/a~1b"),
    (b'{"\\udfff": 1}', "#"), (b'\xef\xbb\xbf{}', "#"), (b'{"a": "\xff"}', "#"), (b'{', "#"), (b'', "#"),
    (b'  ', "#"),
    (b"{'a': 1}", "#"), (b'{"a": 01}', "#"), (b'{"a": 1}{}', "#"), (b'{"a": "\n"}', "#"),
    (b'\xff\xfe{\x00}\x00', "#"), (b"[" * 10_000 + b"]" * 10_000, "#"), (b"[" * 100_000, "#"),
    (b'{"a":' * 10_000, "#")])
def test_what_is_no_json_is_refused_with_its_place(body: bytes, pointer: str) -> None:
    fault = faults_of(body)[0]
    assert isinstance(fault, MalformedJson)
    assert fault.pointer == pointer


def test_nesting_has_a_limit_of_its_own_below_the_interpreter_s() -> None:
    assert parsed_json(b"[" * 32 + b"]" * 32)
    assert faults_of(b"[" * 33 + b"]" * 33)[0].pointer == "#" + "/0" * 32


def test_all_faults_of_the_text_are_told_at_once() -> None:
    body = b'{"a": NaN, "b": 1, "b": 2, "c": "\\udc00"}'
    assert {fault.pointer for fault in faults_of(body)} == {"#/a", "#/b", "#/c"}
    answer = put(body)
    assert answer.status_code == 400
    assert {error["pointer"] for error in answer.json["errors"]} == {"#/a", "#/b", "#/c"}


def test_a_body_of_another_media_type_is_415_and_says_what_is_read() -> None:
    for content_type in ("text/plain", "application/xml", "application/json; charset=latin-1", ""):
        answer = put(b"{}", **{"Content-Type": content_type})
        assert (answer.status_code, answer.headers["Accept"]) == (415, "application/json")
    assert put(b"{}", **{"Content-Encoding": "gzip"}).status_code == 415
    assert put(json.dumps(a_tray()).encode(), **{"Content-Type": "application/json; charset=UTF-8"}).status_code == 200


@pytest.mark.parametrize("body", [b"[]", b'"text"', b"7", b"null", b"true"])
def test_a_body_is_an_object(body: bytes) -> None:
    answer = put(body)
    assert answer.status_code == 422
    assert answer.json["errors"][0] | {"detail": ""} == {"pointer": "#", "detail": "", "code": "not-an-object"}


def test_a_body_above_the_limit_is_413() -> None:
    answer = put(b" " * (BODY_LIMIT + 1))
    assert (answer.status_code, answer.json["limit_bytes"]) == (413, BODY_LIMIT)


def test_a_body_of_exactly_the_limit_is_read() -> None:
    body = json.dumps(a_tray()).encode()
    assert put(body + b" " * (BODY_LIMIT - len(body))).status_code == 200


def test_a_chunked_body_is_counted_and_never_cut_at_the_limit() -> None:
    body = json.dumps(a_tray()).encode()
    for padding, status in ((10, 200), (3_000_000, 413)):
        answer = CLIENT.put("/v1/trays/a", input_stream=io.BytesIO(body + b" " * padding), headers=as_("chef"),
                            content_type="application/json", environ_overrides={"wsgi.input_terminated": True})
        assert answer.status_code == status


def test_fewer_bytes_than_announced_are_400() -> None:
    answer = CLIENT.put("/v1/trays/a", input_stream=io.BytesIO(b"{}"), headers=as_("chef"),
                        content_type="application/json", environ_overrides={"CONTENT_LENGTH": "1000"})
    assert (answer.status_code, answer.json["type"]) == (400, "/docs/problems/body-cut-short")
