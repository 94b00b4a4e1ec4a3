"""The impact of an ingredient over HTTP: everything it reaches, and what its price does to each dish."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.rest.api_keys import needs
from service.rest.conditional import prebuilt_answer
from service.rest.costs_media import JSON, json_bytes, prebuilt
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.impact import ImpactAnswer
from service.rest.schemas.records import PositionQuery
from service.use_cases.read_impact import read_impact as impact_of


def impact(positions: Positions) -> Blueprint:
    """`/v1/ingredients/<code>/impact`."""
    blueprint = Blueprint("impact", "What an ingredient reaches, and what its price does.",
                          url_prefix="/v1/ingredients/<code:code>/impact")

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, ImpactAnswer, tagged=True)
    def read_impact(query: Mapping[str, Any], code: str) -> Response:
        """Read what an ingredient reaches, and the price at which each dish leaves its target.

        Breakdowns, cuts, recipes and dishes, each with the shortest way to it. Of each dish the ingredient's part of
        the food cost, what 1.00 more per base unit does, and the largest price at which it is within its target.
        """
        snapshot = positions.snapshot(positions.asked(query))
        body = json_bytes(impact_of(snapshot, code))
        return prebuilt_answer(prebuilt(snapshot.position, f"impact.{code}", body, JSON), request)

    return blueprint
