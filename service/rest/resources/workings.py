"""Workings over HTTP: how the costs of a dish, cut or recipe came about, as JSON or as a sheet in plain text."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from flask import Response, request

from service.domain.kitchen import Kitchen
from service.domain.working_sheet import as_text
from service.domain.working_tree import Explanation
from service.rest.api_keys import needs
from service.rest.conditional import prebuilt_answer
from service.rest.costs_media import JSON, TEXT, form_asked, json_bytes, prebuilt
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.resources.kept_records import named
from service.rest.schemas.records import PositionQuery
from service.rest.schemas.workings import WorkingAnswer
from service.use_cases.explain_cost import cut_working, dish_working, recipe_working
from service.use_cases.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class WorkingOf:
    """Of what a working is, and the use case that explains it."""

    kind: str
    explain: Callable[[Kitchen, Snapshot, str], Explanation]


WORKINGS = (WorkingOf("dish", dish_working), WorkingOf("cut", cut_working), WorkingOf("recipe", recipe_working))


def workings(positions: Positions) -> Blueprint:
    """`/v1/dish-costs/<code>/working`, and the same of cuts and recipes."""
    blueprint = Blueprint("workings", "How a figure came about, down to the supplier's price.", url_prefix="/v1")
    for working in WORKINGS:
        _add(blueprint, working, positions)
    return blueprint


def _add(blueprint: Blueprint, working: WorkingOf, positions: Positions) -> None:
    @blueprint.get(f"/{working.kind}-costs/<code:code>/working")
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.refuses(404, 406)
    @blueprint.doc(responses={200: {"content": {TEXT.partition(";")[0]: {"schema": {"type": "string"}}}}})
    @blueprint.response(200, WorkingAnswer, tagged=True)
    @named(f"read_{working.kind}_working", f"Read the working of one {working.kind}'s costs.\n\n"
           "Each step says from which record and revision it is, its formula in words, and the numbers in and out; it "
           "adds up again within 1e-10. `Accept: text/plain` gives the same as a sheet to read.")
    def read_working(query: Mapping[str, Any], code: str) -> Response:
        form = form_asked(JSON, TEXT)
        snapshot = positions.snapshot(positions.asked(query))
        explanation = working.explain(snapshot.recorded, snapshot, code)
        body = as_text(explanation).encode() if form == TEXT else json_bytes(explanation.as_document())
        variant = f"{working.kind}-working.{code}{'.text' if form == TEXT else ''}"
        return prebuilt_answer(prebuilt(snapshot.position, variant, body, form), request)
