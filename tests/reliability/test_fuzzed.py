"""The short form of fuzzing: some hundred requests that are nearly right; and that it can fail.

Judged as the long form is: no 5xx, nothing undocumented, all operations reached. The planted faults stand in the
judge's way as a broken service would: an answer of 500, a member of another type, a status that the document has not.
"""

import json
from pathlib import Path

import pytest

from tests.answer_validator import AnswerValidator
from tests.reliability.fuzz_requests import Request
from tests.reliability.fuzzed import PROGRAMME, wrong_with
from tests.reliability.programme import Run

FEW = 8
DOCUMENT = json.loads((Path(__file__).parents[2] / "openapi" / "openapi.json").read_text())


def test_no_request_gets_an_answer_of_5xx_or_an_undocumented_one(sqlite_url: str, tmp_path: Path) -> None:
    """So few requests reach nearly every operation with 2xx; the long form has to reach them all."""
    verdict = PROGRAMME.run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    unreached = [fault for fault in verdict.faults if fault.endswith("was never answered 2xx")]
    assert [fault for fault in verdict.faults if fault not in unreached] == []
    assert len(unreached) <= FEW, unreached
    assert verdict.cases >= PROGRAMME.short


@pytest.mark.parametrize(("status", "media_type", "body", "whom"), [
    (500, "application/problem+json", b"{}", "admin"), (418, "application/json", b"{}", "admin"),
    (200, "text/html", b"<p>", "admin"), (200, "application/json", b'{"revision": "one"}', "admin"),
    (200, "application/json", b"{", "admin"), (200, "application/json", b"[]", "nobody")])
def test_a_wrong_answer_is_told(status: int, media_type: str, body: bytes, whom: str) -> None:
    request = Request("list_suppliers", "/v1/suppliers", "GET", "/v1/suppliers", {}, None, whom, True)
    assert list(wrong_with(request, status, {"Content-Type": media_type}, body, AnswerValidator(DOCUMENT)))


@pytest.mark.parametrize(("day", "media_type", "wrong"), [
    ("2026-11%2F-23", "application/problem+json", 0), ("2026-11%2F-23", "text/html", 1),
    ("2026-11-23", "application/problem+json", 1)])
def test_a_slash_within_a_code_makes_another_path_whose_404_is_a_problem(day: str, media_type: str, wrong: int) -> None:
    problem = {"type": "/docs/problems/not-found", "title": "There is nothing here", "status": 404, "detail": "None.",
               "instance": f"/v1/sales/{day}", "request_id": "0" * 32}
    request = Request("keep_sales", "/v1/sales/{business_date}", "PUT", f"/v1/sales/{day}", {}, None, "admin", True)
    told = list(wrong_with(request, 404, {"Content-Type": media_type}, json.dumps(problem).encode(),
                           AnswerValidator(DOCUMENT)))
    assert len(told) == wrong, told
