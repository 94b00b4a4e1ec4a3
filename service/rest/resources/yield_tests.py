"""Yield tests over HTTP: the butcher records weights; a test that went wrong is set aside."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.domain.yield_test import YieldTest
from service.rest.answered import answered
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.costs_media import JSON, json_bytes
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.prices import ReasonRequest
from service.rest.schemas.records import ListQuery, record
from service.rest.schemas.yield_tests import YieldTestAnswer, YieldTestCheckAnswer, YieldTestPage, YieldTestRequest
from service.use_cases.check_yield_test import check_yield_test
from service.use_cases.read_yield_tests import yield_tests as tests_of
from service.use_cases.record_yield_test import record_yield_test, unmarked
from service.use_cases.set_aside_yield_test import set_aside_yield_test


def yield_tests(positions: Positions) -> Blueprint:
    """`/v1/breakdowns/<code>/yield-tests`."""
    blueprint = Blueprint("yield-tests", "The weights of real breakdowns.",
                          url_prefix="/v1/breakdowns/<code:code>/yield-tests")

    @blueprint.post("")
    @needs("kitchen:write")
    @blueprint.arguments(YieldTestRequest)
    @blueprint.idempotent
    @blueprint.refuses(404)
    @blueprint.response(201, YieldTestAnswer)
    def post_yield_test(body: dict[str, Any], code: str) -> Any:
        """Record a yield test: every output is weighed.

        Where far more of the input than usual is in no output, a weight was misread or forgotten: that is refused
        (`unaccounted-not-confirmed`) until `unaccounted_confirmed` says that it is so.
        """
        confirmed = body.get("unaccounted_confirmed", False)
        return answered(record_yield_test(positions.ledger, _test_of(code, body), asker(), confirmed))

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(ListQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, YieldTestPage, paged=True)
    def list_yield_tests(query: Mapping[str, Any], code: str) -> Any:
        """List the tests of a breakdown, each saying whether it counts, the one recorded last first."""
        page = positions.page(query)
        kitchen = positions.kitchen(page.position)
        return positions.envelope(tests_of(kitchen, code, page.position.day, page.after, page.limit), page)

    _set_aside(blueprint, positions)
    _check(blueprint, positions)
    return blueprint


def _set_aside(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.post("/<code:test_id>/set-aside")
    @needs("kitchen:write")
    @blueprint.arguments(ReasonRequest)
    @blueprint.idempotent
    @blueprint.refuses(404)
    @blueprint.response(200, YieldTestAnswer)
    def post_yield_test_set_aside(body: Mapping[str, Any], code: str, test_id: str) -> Any:
        """Set a test aside, with the reason; it stays on record and no longer counts."""
        return answered(set_aside_yield_test(positions.ledger, code, test_id, body["reason"], asker()), 200)


def _check(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.post("/check")
    @needs("kitchen:write")
    @blueprint.arguments(YieldTestRequest)
    @blueprint.refuses(404)
    @blueprint.response(200, YieldTestCheckAnswer)
    def read_yield_test_check(body: dict[str, Any], code: str) -> Response:
        """Check a yield test before it is recorded: whether each weight is in line with the tests before it.

        Nothing is stored. Each weight comes with what is expected of it, what is unaccounted for too, and warnings in
        words; what recording would refuse is refused here alike.
        """
        position = positions.asked({})
        checked = check_yield_test(positions.kitchen(position), _test_of(code, body), position.day)
        return Response(json_bytes(checked), 200, content_type=JSON)


def _test_of(code: str, body: Mapping[str, Any]) -> YieldTest:
    """The test of a body: whether somebody confirmed what is missing is no fact of it."""
    facts = {name: value for name, value in body.items() if name != "unaccounted_confirmed"}
    return record(YieldTest, facts | {"breakdown": code, "made": unmarked()})
