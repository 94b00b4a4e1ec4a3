"""Yield tests over HTTP: the butcher records weights; a test that went wrong is set aside."""

from collections.abc import Mapping
from typing import Any

from service.domain.yield_test import YieldTest
from service.rest.answered import answered
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.prices import ReasonRequest
from service.rest.schemas.records import ListQuery, record
from service.rest.schemas.yield_tests import YieldTestAnswer, YieldTestPage, YieldTestRequest
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
        """Record a yield test: every output is weighed."""
        test = record(YieldTest, body | {"breakdown": code, "made": unmarked()})
        return answered(record_yield_test(positions.ledger, test, asker()))

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

    @blueprint.post("/<code:test_id>/set-aside")
    @needs("kitchen:write")
    @blueprint.arguments(ReasonRequest)
    @blueprint.idempotent
    @blueprint.refuses(404)
    @blueprint.response(200, YieldTestAnswer)
    def post_yield_test_set_aside(body: Mapping[str, Any], code: str, test_id: str) -> Any:
        """Set a test aside, with the reason; it stays on record and no longer counts."""
        return answered(set_aside_yield_test(positions.ledger, code, test_id, body["reason"], asker()), 200)

    return blueprint
