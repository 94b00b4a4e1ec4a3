"""Costs over HTTP: current figures of dishes, cuts and recipes; one, a page, or the whole list as CSV.

The way of every poll: the key and the head in one statement, then the bytes that the snapshot keeps.
"""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.rest.api_keys import caller, needs
from service.rest.chosen_rows import chosen
from service.rest.conditional import prebuilt_answer
from service.rest.cost_lists import CostList
from service.rest.cost_pages import chosen_page, page_of, whole
from service.rest.costs_media import CSV, JSON, form_asked, json_answer
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.position import Positions
from service.rest.resources.kept_records import named
from service.rest.schemas.records import PositionQuery


def costs(costs_of: CostList, positions: Positions) -> Blueprint:
    """`/v1/dish-costs`, `/v1/cut-costs` or `/v1/recipe-costs`, and one row of it by its code."""
    blueprint = Blueprint(costs_of.name, f"Current costs, {costs_of.code} by {costs_of.code}.",
                          url_prefix=f"/v1/{costs_of.name}")
    operation = costs_of.code

    @blueprint.get("")
    @needs(costs_of.scope)
    @blueprint.arguments(costs_of.query, location="query")
    @blueprint.refuses(406)
    @blueprint.doc(responses={200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}})
    @blueprint.response(200, costs_of.page, tagged=True, paged=True,
                        headers={"Content-Disposition": header_ref("Disposition")})
    @named(f"list_{operation}_costs", f"List the costs of every {operation}, as JSON in pages or as CSV whole.\n\n"
           "`Accept: text/csv` gives the whole list as a table for spreadsheets; `limit` and `cursor` are for JSON. "
           "The filters choose rows, `fields` what is told of each; both forms take them.")
    def list_costs(query: Mapping[str, Any]) -> Response:
        page = positions.page(query)
        snapshot, costs_only = positions.snapshot(page.position), "read" not in caller().scopes
        asked = None if len(query) == 1 else chosen(costs_of.code, query, request.query_string)
        if form_asked(JSON, CSV) == CSV:
            return prebuilt_answer(whole(costs_of, snapshot, costs_only, asked), request)
        if asked is None:
            return prebuilt_answer(page_of(costs_of, snapshot, page, costs_only, positions), request)
        return prebuilt_answer(chosen_page(costs_of, snapshot, page, costs_only, positions, asked), request)

    @blueprint.get("/<code:code>")
    @needs(costs_of.scope)
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, costs_of.answer, tagged=True)
    @named(f"read_{operation}_cost", f"Read the costs of one {operation}.")
    def read_cost(query: Mapping[str, Any], code: str) -> Response:
        snapshot, costs_only = positions.snapshot(positions.asked(query)), "read" not in caller().scopes
        variant = f"{costs_of.name}.{code}{'.costs' if costs_only else ''}"
        answer = json_answer(snapshot, variant, lambda: costs_of.row(snapshot, code, costs_only))
        return prebuilt_answer(answer, request)

    return blueprint
