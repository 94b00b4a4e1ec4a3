"""Cutting sheets and yield statistics over HTTP: what a piece gives, and how sure that is."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.domain.yield_part import BY, Part
from service.rest.api_keys import needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.costs_media import JSON, json_answer, json_bytes, prebuilt
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.cutting_sheets import CuttingSheetAnswer
from service.rest.schemas.records import PositionQuery
from service.rest.schemas.yield_statistics import YieldsQuery, YieldStatisticsAnswer
from service.use_cases.documents import Document
from service.use_cases.read_cutting_sheet import read_cutting_sheet as sheet_of
from service.use_cases.read_yield_statistics import yield_statistics
from service.use_cases.snapshot import Snapshot


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
    @blueprint.arguments(YieldsQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, YieldStatisticsAnswer, tagged=True)
    def read_yields(query: Mapping[str, Any], code: str) -> Response:
        """Read the yields of a breakdown, how sure they are, and what to look at.

        Per output, and of what is unaccounted for: number of tests, ratio, standard error, 95 % interval, control
        chart, the rules that fired and when, the trend; of all tests that count, or of a butcher's, a supplier's or a
        grade's, and by each of these side by side. Which tests count, and why others do not.
        """
        snapshot = positions.snapshot(positions.asked(query))
        return prebuilt_answer(_yields(snapshot, query, code), request)

    return blueprint


def _yields(snapshot: Snapshot, query: Mapping[str, Any], code: str) -> Prebuilt:
    """Kept with the snapshot when it is of all tests; a part is any text that is asked for."""
    part, by, day = Part(**{what: query.get(what) for what in BY}), query.get("by"), snapshot.position.day
    asked = f"yields.{code}" if by is None else f"yields.{code}.{by}"

    def document() -> Document:
        return yield_statistics(snapshot.recorded, code, day, part, by)

    if part.is_whole:
        return json_answer(snapshot, asked, document)
    return prebuilt(snapshot.position, f"{asked}.part", json_bytes(document()), JSON)
