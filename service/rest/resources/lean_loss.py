"""Lean loss over HTTP: what a percentage point of lean in the bin costs, per kg and a year."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from flask import Response, request

from service.rest.api_keys import needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.costs_media import JSON, json_bytes, prebuilt
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.recent_answers import recent_answers
from service.rest.schemas.lean_loss import LeanLossAnswer, LeanLossQuery
from service.use_cases.documents import plain
from service.use_cases.read_lean_loss import read_lean_loss as lean_loss_of
from service.use_cases.snapshot import Snapshot


def lean_loss(positions: Positions) -> Blueprint:
    """`/v1/breakdowns/<code>/lean-loss`."""
    blueprint = Blueprint("lean-loss", "What lean in the bin costs.", url_prefix="/v1/breakdowns/<code:code>/lean-loss")

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(LeanLossQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, LeanLossAnswer, tagged=True)
    def read_lean_loss(query: Mapping[str, Any], code: str) -> Response:
        """Read what lost percentage points of lean cost: over-trimming made visible.

        At what the lean was worth, and as the rise of the cost of what is left; for each output alone and for all in
        proportion; per kg of input, and a year at the volume given. Where loss is up while trim is down in the tests,
        what that comes to.
        """
        snapshot = positions.snapshot(positions.asked(query))
        return prebuilt_answer(_answer(snapshot, code, query["input_kg_per_year"], query["points"]), request)

    return blueprint


def _answer(snapshot: Snapshot, code: str, volume: Decimal, points: Decimal) -> Prebuilt:
    variant = f"lean-loss.{code}.{plain(volume)}.{plain(points)}"
    return recent_answers(snapshot).kept(variant, lambda: prebuilt(
        snapshot.position, variant, json_bytes(lean_loss_of(snapshot, code, volume, points)), JSON))
