"""The surface: every route, every method and every status carries the header fields that keep it in its place.

Sources: OWASP ASVS 5.0.0 chapters 3.4 and 13.4, OWASP HTTP Headers cheat sheet (both from memory); RFC 9110 sections
9.3.8 (TRACE) and 15.5.6 (405 with Allow); the Fetch standard for CORS.
"""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.rest.every_answer import SECURITY_HEADERS
from service.use_cases.ledger_unavailable import LedgerUnavailable
from tests.reliability.scope_table import SCOPE_OF
from tests.rest.small_kitchen import Kitchen

EXACT = {name: value for name, value in SECURITY_HEADERS if name not in ("Content-Security-Policy", "Referrer-Policy")}
METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND")
PATHS = sorted({path for _, path in SCOPE_OF})


def faults_of(answer: TestResponse) -> Iterator[str]:
    """What an answer lacks, or has too much."""
    headers = answer.headers
    for name, value in EXACT.items():
        if headers.getlist(name) != [value]:
            yield f"{name}: {headers.getlist(name)}"
    page = headers.get("Content-Type", "").startswith("text/html")
    if headers.getlist("Referrer-Policy") not in (["no-referrer"], *([["same-origin"]] if page else [])):
        yield f"Referrer-Policy: {headers.getlist('Referrer-Policy')}"
    (policy,) = headers.getlist("Content-Security-Policy") or ("",)
    if not policy.startswith("default-src 'none'") or "unsafe" in policy or "frame-ancestors 'none'" not in policy:
        yield f"Content-Security-Policy: {policy}"
    if "base-uri 'none'" not in policy:
        yield f"Content-Security-Policy without base-uri: {policy}"
    if len(headers.getlist("Cache-Control")) != 1 or not headers.get("X-Request-ID"):
        yield f"Cache-Control {headers.getlist('Cache-Control')}, X-Request-ID {headers.get('X-Request-ID')}"
    if answer.data and "charset=utf-8" not in headers.get("Content-Type", "") and "json" not in headers.get(
            "Content-Type", "") and not re.search("spreadsheetml|javascript", headers.get("Content-Type", "")):
        yield f"Content-Type: {headers.get('Content-Type')}"
    yield from (f"{name} is there" for name, _ in headers
                if name.lower().startswith(("access-control", "server", "x-powered")))
    if answer.status_code >= 500:
        yield f"status {answer.status_code}"


def asked(kitchen: Kitchen, method: str, path: str, headers: Any) -> TestResponse:
    where = re.sub(r"\{\w+\}", "nobody", path)
    answer: TestResponse = kitchen.client.open(where, method=method, headers=headers)
    return answer


@pytest.mark.parametrize("who", ["a good key", "a wrong key", "no key", "a browser"])
def test_every_route_by_every_method(kitchen: Kitchen, who: str) -> None:
    headers: dict[str, dict[str, str]] = {
        "a good key": kitchen.headers, "a wrong key": {"Authorization": "Bearer x"}, "no key": {},
        "a browser": {"Accept": "text/html", "User-Agent": "Mozilla/5.0", "Origin": "https://other.example"}}
    found, statuses = [], set()
    for path in PATHS:
        for method in METHODS:
            answer = asked(kitchen, method, path, headers[who])
            statuses.add(answer.status_code)
            found += [(method, path, answer.status_code, fault) for fault in faults_of(answer)]
    assert not found, found
    assert statuses >= {"a good key": {200, 404, 405, 415}, "a wrong key": {401, 405}, "no key": {200, 401, 404, 405},
                        "a browser": {200, 401, 405}}[who]


@pytest.mark.parametrize("path", PATHS)
def test_a_method_that_is_not_served_is_405_with_what_is(kitchen: Kitchen, path: str) -> None:
    served = {method for method, where in SCOPE_OF if where == path}
    for method in {"PATCH", "TRACE", "DELETE"} - served:
        answer = asked(kitchen, method, path, kitchen.headers)
        assert answer.status_code == 405, (method, answer.status_code)
        assert served <= set(re.split(r", ?", answer.headers["Allow"])) - {method}


@pytest.mark.parametrize(("path", "headers", "status"), [
    ("/nope", {}, 404), ("/v1/nope", {"Accept": "text/html"}, 404), ("/v1/dish-costs?limit=0", {}, 422),
    ("/v1/dish-costs?api_key=x", {}, 400), ("/v1/dish-costs", {"Accept": "image/png"}, 406),
    ("/v1/dish-costs/soup", {"If-None-Match": "*"}, 304), ("/v1/workbook.xlsx?dishes=nope", {}, 422),
    ("/v1/dishes/soup/", {}, 404), ("//v1/dishes", {}, 404)])
def test_every_status_of_a_read(kitchen: Kitchen, path: str, headers: dict[str, str], status: int) -> None:
    answer = kitchen.client.get(path, headers=kitchen.headers | headers)
    assert answer.status_code == status, answer.text
    assert list(faults_of(answer)) == []


def test_a_defect_and_a_ledger_out_of_reach_carry_them_too(kitchen: Kitchen) -> None:
    for error, status in ((RuntimeError("a defect"), 500), (LedgerUnavailable("gone"), 503)):
        def fails(*_asked: Any, error: Exception = error) -> None:
            raise error

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(type(kitchen.ledger), "head_and_key", fails)
            answer = kitchen.client.get("/v1/dish-costs", headers=kitchen.headers)
        assert answer.status_code == status
        assert [fault for fault in faults_of(answer) if not fault.startswith("status")] == []
        assert "defect" not in answer.text


def test_an_answer_that_lacks_one_is_found(kitchen: Kitchen) -> None:
    for name, _ in (*SECURITY_HEADERS, ("Cache-Control", ""), ("X-Request-ID", "")):
        answer = kitchen.client.get("/health/live")
        del answer.headers[name]
        assert list(faults_of(answer)) != [], name
    answer = kitchen.client.get("/health/live")
    answer.headers["Access-Control-Allow-Origin"] = "*"
    assert list(faults_of(answer)) != []
