"""The short form of JSON torture, and that judge and programme can fail."""

import json
from pathlib import Path

import pytest

from tests.reliability.json_cases import json_texts
from tests.reliability.json_judge import NotJson, judged
from tests.reliability.json_torture import PROGRAMME
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
