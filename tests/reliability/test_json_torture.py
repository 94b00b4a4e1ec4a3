"""The short form of JSON torture, and that judge and programme can fail."""

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import requests

from tests.reliability.json_cases import json_texts
from tests.reliability.json_judge import NotJson, judged
from tests.reliability.json_torture import LARGEST_ANSWER, PROGRAMME, wrong_with
from tests.reliability.short_form import IN_EVERY_RUN, short_form_on


@pytest.mark.parametrize("engine", IN_EVERY_RUN)
def test_every_text_is_refused_as_a_problem_or_read_as_the_standard_says(
    request: pytest.FixtureRequest, tmp_path: Path, engine: str
) -> None:
    verdict = short_form_on(request, PROGRAMME, engine, tmp_path)
    assert verdict.passed, verdict.faults


@pytest.mark.parametrize("text", [b"01", b"[1,]", b'{"a":1,"a":2}', rb'"\ud800"', b'"\xc0\x80"', b"NaN", b"", b"1 2",
                                  b"\xef\xbb\xbf1", b'"\n"', b"[1}", b'{"a" 1}', b"+1", b"1.", b"'a'"])
def test_the_judge_refuses_what_is_no_json_for_interchange(text: bytes) -> None:
    with pytest.raises(NotJson):
        judged(text)


def test_the_judge_reads_what_pythons_own_reader_reads() -> None:
    """Held to another reader where both must agree: what the judge reads, that one reads as the same value. It
    reads no deeper than its stack."""
    read = 0
    for name, text in json_texts():
        if len(text) > 5_000:
            continue
        try:
            value, depth = judged(text)
        except NotJson:
            continue
        if depth > 100:
            continue
        assert value == json.loads(text, parse_int=str, parse_float=str), name
        read += 1
    assert read > 100


def answered(status: int, body: Any = None, problem: str = "") -> requests.Response:
    """An answer as a service would give it."""
    answer = requests.Response()
    answer.status_code = status
    answer.headers["Content-Type"] = "application/problem+json" if problem else "application/json"
    answer._content = json.dumps({"type": f"/docs/problems/{problem}"} if problem else body).encode()
    return answer


@pytest.mark.parametrize(("text", "answer", "kept", "fault"), [
    (b'{"name": "A"}', answered(201), answered(200, {"name": "A"}), None),
    (b'{"name": "A"}', answered(201), answered(200, {"name": "B"}), "recorded otherwise"),
    (b'{"name": "A"}', answered(400, problem="malformed-json"), answered(404), "called malformed"),
    (b'{"name": "A"', answered(400, problem="malformed-json"), answered(404), None),
    (b'{"name": "A"', answered(422, problem="invalid"), answered(404), "no JSON"),
    (b'{"name": 1}', answered(422, problem="invalid"), answered(200, {"name": "1"}), "refused, and recorded"),
    (b"[]", answered(500, problem="internal-fault"), answered(404), "5xx"),
    (b"[]", answered(422, "x" * LARGEST_ANSWER), answered(404), "bytes of answer"),
    (b"[" * 40 + b"]" * 40, answered(422, problem="invalid"), answered(404), "deeper"),
    (b" " * 2_000_000, answered(400, problem="malformed-json"), answered(404), "above the limit")])
def test_an_answer_that_is_wrong_is_told(text: bytes, answer: Any, kept: Any, fault: str | None) -> None:
    service: Any = SimpleNamespace(admin=SimpleNamespace(get=lambda _path: kept))
    found = wrong_with("made up", text, answer, service, "t1")
    assert [fault in each for each in found] == ([True] if fault else []), found
