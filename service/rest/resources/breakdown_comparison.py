"""The comparison of a breakdown over HTTP: its methods, other breakdowns, break or buy, and finishing."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.rest.api_keys import needs
from service.rest.conditional import prebuilt_answer
from service.rest.costs_media import JSON, json_bytes, prebuilt
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.places import takes_long
from service.rest.position import Positions
from service.rest.schemas.breakdown_comparison import BreakdownComparisonAnswer, ComparisonQuery, ComparisonRequest
from service.use_cases.read_breakdown_comparison import UseAsked
from service.use_cases.read_breakdown_comparison import read_breakdown_comparison as comparison_of


def breakdown_comparison(positions: Positions) -> Blueprint:
    """`/v1/breakdowns/<code>/comparison`."""
    blueprint = Blueprint("breakdown-comparison", "Break or buy, and which way to break.",
                          url_prefix="/v1/breakdowns/<code:code>/comparison")
    _read(blueprint, positions)
    _read_of_used(blueprint, positions)
    return blueprint


def _read(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.get("")
    @takes_long
    @needs("read")
    @blueprint.arguments(ComparisonQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, BreakdownComparisonAnswer, tagged=True)
    def read_breakdown_comparison(query: Mapping[str, Any], code: str) -> Response:
        """Compare a breakdown: by method, with other breakdowns, with buying.

        Per kg of input, when all that comes off is used. The five methods share one cost, so that by each the cuts cost
        the same in all. Breakdowns are compared in value after labour, whatever the method. Breaking is compared with
        buying for the whole input, never cut by cut: a cut's cost comes of its value, so that would be circular.
        Whether to finish a cut further leaves out what the input cost, which is spent either way.
        """
        snapshot = positions.snapshot(positions.asked(query))
        body = json_bytes(comparison_of(snapshot, code, query.get("against")))
        return prebuilt_answer(prebuilt(snapshot.position, f"breakdown-comparison.{code}", body, JSON), request)


def _read_of_used(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.post("")
    @takes_long
    @needs("read")
    @blueprint.arguments(ComparisonRequest)
    @blueprint.refuses(404)
    @blueprint.response(200, BreakdownComparisonAnswer)
    def read_breakdown_comparison_of_used(body: Mapping[str, Any], code: str) -> Response:
        """Compare a breakdown by what of its cuts is really used.

        So much input against buying, ready-trimmed, the kilograms that are used of it; what is not used counts nothing,
        and `lost_to_what_is_not_used` says what that comes to. The rest is as in the GET. Nothing is stored.
        """
        snapshot = positions.snapshot(positions.asked_in_body(body))
        use = UseAsked(tuple(body["used"]), body.get("input_kg"), body.get("pieces"))
        return Response(json_bytes(comparison_of(snapshot, code, body.get("against"), use)), 200, content_type=JSON)
