"""Cutting sheets and yield statistics over HTTP: what a piece gives, and how sure that is."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.rest.api_keys import needs
from service.rest.conditional import prebuilt_answer
from service.rest.costs_media import json_answer
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.cutting_sheets import CuttingSheetAnswer, YieldStatisticsAnswer
from service.rest.schemas.records import PositionQuery
from service.use_cases.read_cutting_sheet import read_cutting_sheet as sheet_of
from service.use_cases.read_yield_statistics import yield_statistics


def cutting_sheets(positions: Positions) -> Blueprint:
    """`/v1/breakdowns/<code>/cutting-sheet` and `/v1/breakdowns/<code>/yields`."""
    blueprint = Blueprint("cutting-sheets", "What a piece gives, what each part costs, and how sure that is.",
                          url_prefix="/v1/breakdowns/<code:code>")

    @blueprint.get("/cutting-sheet")
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, CuttingSheetAnswer, tagged=True)
    def read_cutting_sheet(query: Mapping[str, Any], code: str) -> Response:
        """Read the cutting sheet of a breakdown.

        Steps and cautions, and for every output its weight, portions and tail per piece, cost per kg and per portion.
        """
        snapshot = positions.snapshot(positions.asked(query))
        answer = json_answer(snapshot, f"cutting-sheet.{code}", lambda: sheet_of(snapshot, code))
        return prebuilt_answer(answer, request)

    @blueprint.get("/yields")
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, YieldStatisticsAnswer, tagged=True)
    def read_yields(query: Mapping[str, Any], code: str) -> Response:
        """Read the yields of a breakdown, and how sure they are.

        Per output: number of tests, standard error, 95 % interval and control chart; which tests count and why not.
        """
        snapshot = positions.snapshot(positions.asked(query))
        day = snapshot.position.day
        return prebuilt_answer(json_answer(
            snapshot, f"yields.{code}", lambda: yield_statistics(snapshot.recorded, code, day)), request)

    return blueprint
