"""Problem documents. Sources: RFC 9457; RFC 9110 sections 15.5.2, 15.5.6 and 10.2.1; RFC 6901 sections 3 and 6."""

import json
import logging
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import urlsplit

import pytest
from werkzeug.exceptions import ServiceUnavailable, TooManyRequests

from service.domain import errors
from service.domain.errors import Fault, Refused, StillInUse, UnknownUnit, WrongValue
from service.rest import http_faults
from service.rest.problem_table import PROBLEMS, REASONS, problem_type_of
from service.rest.sentences import pointer_of
from tests.rest.trays import a_client, a_tray, as_

LINE = {"cut": "topside-cap", "weight_kg": "1"}


def every_fault(root: type[Fault] = Fault) -> Iterator[type[Fault]]:
    yield root
    for below in root.__subclasses__():
        yield from every_fault(below)


def answer_to(fault: Exception) -> Any:
    return a_client(fault=fault).post("/v1/trays/a/labels/1", json=LINE, headers=as_("chef"))


@pytest.mark.parametrize("fault", [each for each in every_fault() if each.__module__ in (
    errors.__name__, http_faults.__name__)], ids=lambda each: each.__name__)
def test_every_fault_has_a_row_of_its_own_and_a_page(fault: type[Fault]) -> None:
    kind = PROBLEMS[fault]
    assert kind.slug == fault.code
    assert kind.status in REASONS
    assert a_client().get(kind.uri).status_code == 200


def test_slugs_are_unique() -> None:
    assert len({kind.slug for kind in PROBLEMS.values()}) == len(PROBLEMS)


def test_a_fault_without_a_row_is_answered_as_its_ancestor() -> None:
    class NewUnit(UnknownUnit):
        """A fault that somebody adds later."""

    assert problem_type_of(NewUnit) is PROBLEMS[UnknownUnit]


def test_a_problem_document_has_the_members_of_rfc_9457() -> None:
    answer = answer_to(UnknownUnit("Use kg.", "#/unit", unit="stone"))
    assert answer.content_type == "application/problem+json"
    assert answer.json == {
        "type": "/docs/problems/unknown-unit", "title": "The unit is not known", "status": 422, "detail": "Use kg.",
        "instance": "/v1/trays/a/labels/1", "request_id": answer.headers["X-Request-ID"], "unit": "stone",
        "errors": [{"pointer": "#/unit", "detail": "Use kg.", "code": "unknown-unit", "unit": "stone"}]}


def test_all_that_is_wrong_with_a_body_is_told_at_once() -> None:
    body = a_tray(name="", price=True, shape="round", pieces=1.5, packed_on="20260105", colour="red", note=None,
                  lines=[LINE | {"cut": "Cap"}, {"weight_kg": "0"}, 7])
    answer = a_client().put("/v1/trays/a", json=body, headers=as_("chef"))
    assert answer.status_code == 422
    assert {(error["pointer"], error["code"]) for error in answer.json["errors"]} == {
        ("#/name", "too-short"), ("#/price", "not-a-decimal"), ("#/shape", "not-a-choice"),
        ("#/pieces", "not-a-whole-number"), ("#/packed_on", "not-a-date"), ("#/colour", "unknown-field"),
        ("#/note", "null"), ("#/lines/0/cut", "not-a-code"), ("#/lines/1/cut", "required"),
        ("#/lines/1/weight_kg", "too-small"), ("#/lines/2", "not-an-object")}
    assert all(error["detail"].endswith(".") for error in answer.json["errors"])


def test_an_unknown_field_is_told_with_the_fields_there_are() -> None:
    answer = a_client().put("/v1/trays/a", json=a_tray(lines=[LINE | {"wieght": 1}]), headers=as_("chef"))
    assert answer.json["errors"] == [{
        "pointer": "#/lines/0/wieght", "code": "unknown-field",
        "detail": "There is no such field here; the fields are cut, weight_kg."}]


def test_unknown_fields_are_told_after_the_others_by_their_names() -> None:
    """The library finds them in the order of a set, which is another in each process."""
    unknown = dict.fromkeys(("sort", "hue", "tare", "glaze", "bin", "rind", "zone", "age"), 1)
    answer = a_client().put("/v1/trays/a", json=a_tray(**unknown, note=None, name=""), headers=as_("chef"))
    told = [error["pointer"] for error in answer.json["errors"]]
    assert set(told[:2]) == {"#/note", "#/name"}
    assert told[2:] == sorted(f"#/{name}" for name in unknown)


def test_faults_of_one_kind_keep_their_type_and_several_kinds_are_refused_together() -> None:
    one = answer_to(Refused([UnknownUnit("a", "#/a"), UnknownUnit("b", "#/b")])).json
    assert (one["type"], len(one["errors"])) == ("/docs/problems/unknown-unit", 2)
    several = answer_to(Refused([UnknownUnit("a", "#/a"), WrongValue("b", "#/b")])).json
    assert (several["type"], several["status"]) == ("/docs/problems/refused", 422)


def test_the_most_urgent_of_several_faults_gives_the_status() -> None:
    answer = answer_to(Refused([WrongValue("a", "#/a"), StillInUse("b", users=["c"])]))
    assert (answer.status_code, answer.json["type"]) == (409, "/docs/problems/still-in-use")
    assert answer.json["errors"][1] == {"detail": "b", "code": "still-in-use", "users": ["c"]}


def test_a_412_says_what_changed() -> None:
    changes = [{"revision": 9, "who": "Finance", "record": {"amount": Decimal("1.50"), "on": date(2026, 1, 5)}}]
    answer = answer_to(errors.PreconditionFailed("Read it again.", revision=9, changes=changes))
    assert answer.status_code == 412
    assert answer.json["changes"] == [
        {"revision": 9, "who": "Finance", "record": {"amount": "1.50", "on": "2026-01-05"}}]


def test_a_member_of_a_fault_never_replaces_one_of_the_standard() -> None:
    assert answer_to(UnknownUnit("Use kg.", status="fine", title="mine")).json["status"] == 422


def test_a_surprise_is_500_without_internals_and_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR, "seamcost.rest"):
        answer = answer_to(RuntimeError("password=hunter2 in /etc/secret"))
    assert (answer.status_code, answer.json["type"]) == (500, "/docs/problems/internal-fault")
    assert b"hunter2" not in answer.data
    assert b"Traceback" not in answer.data
    assert caplog.records[0].fields == {"endpoint": "trays.label_tray"}, "who writes the log adds the request's id"


def test_a_ledger_that_cannot_be_reached_is_503_with_retry_after() -> None:
    class Unreachable(Exception):
        """The driver's error."""

    client = a_client(fault=Unreachable("the ledger on host seven"), unavailable=(Unreachable,))
    answer = client.post("/v1/trays/a/labels/1", json=LINE, headers=as_("chef"))
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "5")
    assert b"host seven" not in answer.data


def test_http_errors_keep_their_header_fields() -> None:
    answer = a_client().delete("/v1/trays/a", headers=as_("chef"))
    assert answer.status_code == 405
    assert set(answer.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS", "PUT"}
    assert answer_to(TooManyRequests(retry_after=30)).headers["Retry-After"] == "30"
    assert answer_to(ServiceUnavailable(retry_after=7)).headers["Retry-After"] == "7"


def test_methods_that_nobody_serves_are_405() -> None:
    for method in ("TRACE", "PATCH", "POST"):
        assert a_client().open("/v1/trays/a", method=method, headers=as_("chef")).status_code == 405


@pytest.mark.parametrize("path", ["/nope", "/v1/trays/", "/v1//trays", "/v1/trays/a/labels/99999999999999999999",
                                  "/v1/trays/a/labels/%D9%A3", "/docs/problems/nope", "/v1/trays/%00"])
def test_a_path_that_is_not_there_is_a_problem(path: str) -> None:
    answer = a_client().get(path, headers=as_("reader"))
    assert (answer.status_code, answer.json["type"]) == (404, "/docs/problems/no-such-path")


def test_the_instance_is_a_uri_reference_for_odd_paths() -> None:
    answer = a_client().get("/v1/trays/a%20b%3F%C3%A9%5B%22", headers=as_("reader"))
    assert answer.json["instance"] == "/v1/trays/a%20b%3F%C3%A9%5B%22"
    assert urlsplit(answer.json["instance"]).query == ""


def test_a_code_that_cannot_be_is_explained_when_something_is_put_there() -> None:
    answer = a_client().put("/v1/trays/Beef_Topside", json=a_tray(), headers=as_("chef"))
    assert answer.status_code == 422
    assert answer.json["errors"][0]["parameter"] == "code"
    assert a_client().put("/v1/trays/changes", json=a_tray(), headers=as_("chef")).status_code == 422


@pytest.mark.parametrize(("path", "pointer"), [
    ((), "#"), (("lines", 0, "cut"), "#/lines/0/cut"), (("a/b", "c~d", "é", "e f"), "#/a~1b/c~0d/%C3%A9/e%20f"),
    (("c%d", 'k"l'), "#/c%25d/k%22l")])
def test_pointers_are_escaped_as_rfc_6901_shows(path: tuple[str | int, ...], pointer: str) -> None:
    assert pointer_of(path) == pointer


def test_titles_of_statuses_are_those_of_rfc_9110() -> None:
    assert (REASONS[413], REASONS[422]) == ("Content Too Large", "Unprocessable Content")


def test_a_problem_is_json_whatever_the_client_sent() -> None:
    answer = a_client().put("/v1/trays/a", json=a_tray(**{"\u202e\U0001f600": 1}), headers=as_("chef"))
    assert json.loads(answer.data)["errors"][0]["pointer"] == "#/%E2%80%AE%F0%9F%98%80"
