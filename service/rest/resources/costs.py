"""Costs over HTTP: current figures of dishes, cuts and recipes; one, a page, or the whole list as CSV.

The way of every poll: the key and the head in one statement, then the bytes that the snapshot keeps.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import Response, request

from service.rest.api_keys import caller, needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.cost_columns import CUT_COLUMNS, DISH_COLUMNS, RECIPE_COLUMNS
from service.rest.costs_media import CSV, JSON, csv_answer, form_asked, json_answer, json_bytes, prebuilt
from service.rest.csv_answers import Column
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.paging import LIMIT
from service.rest.position import Page, Positions
from service.rest.resources.kept_records import named
from service.rest.schemas.costs import (
    CutCostAnswer,
    CutCostPage,
    DishCostAnswer,
    DishCostPage,
    RecipeCostAnswer,
    RecipeCostPage,
)
from service.rest.schemas.records import ListQuery, PositionQuery
from service.use_cases.cost_rows import cut_row, cut_rows, dish_row, dish_rows, recipe_row, recipe_rows
from service.use_cases.documents import Document
from service.use_cases.snapshots import Snapshot


@dataclass(frozen=True, slots=True)
class CostList:
    """One of the three lists: its name on the wire, what a row's code is called, and where its rows come from."""

    name: str
    code: str
    scope: str
    rows: Callable[[Snapshot, bool], Sequence[Document]]
    row: Callable[[Snapshot, str, bool], Document]
    columns: Sequence[Column]
    answer: type[Any]
    page: type[Any]


COST_LISTS = (
    CostList("dish-costs", "dish", "costs:read", dish_rows, dish_row, DISH_COLUMNS, DishCostAnswer, DishCostPage),
    CostList("cut-costs", "cut", "read", lambda snapshot, _: cut_rows(snapshot),
             lambda snapshot, code, _: cut_row(snapshot, code), CUT_COLUMNS, CutCostAnswer, CutCostPage),
    CostList("recipe-costs", "recipe", "read", lambda snapshot, _: recipe_rows(snapshot),
             lambda snapshot, code, _: recipe_row(snapshot, code), RECIPE_COLUMNS, RecipeCostAnswer, RecipeCostPage),
)


def costs(costs_of: CostList, positions: Positions) -> Blueprint:
    """`/v1/dish-costs`, `/v1/cut-costs` or `/v1/recipe-costs`, and one row of it by its code."""
    blueprint = Blueprint(costs_of.name, f"Current costs, {costs_of.code} by {costs_of.code}.",
                          url_prefix=f"/v1/{costs_of.name}")
    operation = costs_of.code

    @blueprint.get("")
    @needs(costs_of.scope)
    @blueprint.arguments(ListQuery, location="query")
    @blueprint.refuses(406)
    @blueprint.doc(responses={200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}})
    @blueprint.response(200, costs_of.page, tagged=True, paged=True,
                        headers={"Content-Disposition": header_ref("Disposition")})
    @named(f"list_{operation}_costs", f"List the costs of every {operation}, as JSON in pages or as CSV whole.\n\n"
           "`Accept: text/csv` gives the whole list as a table for spreadsheets; `limit` and `cursor` are for JSON.")
    def list_costs(query: Mapping[str, Any]) -> Response:
        page = positions.page(query)
        snapshot, costs_only = positions.snapshot(page.position), "read" not in caller().scopes
        if form_asked(JSON, CSV) == CSV:
            return prebuilt_answer(_whole(costs_of, snapshot, costs_only), request)
        return prebuilt_answer(_page(costs_of, snapshot, page, costs_only, positions), request)

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


def _whole(costs_of: CostList, snapshot: Snapshot, costs_only: bool) -> Prebuilt:
    variant = f"{costs_of.name}{'.costs' if costs_only else ''}"
    return csv_answer(snapshot, variant, costs_of.columns, lambda: costs_of.rows(snapshot, costs_only),
                      f"{costs_of.name}-{snapshot.position.day}.csv")


def _page(costs_of: CostList, snapshot: Snapshot, page: Page, costs_only: bool, positions: Positions) -> Prebuilt:
    """A page; the first one is kept, as it is what is polled: of round lengths alone, so that nobody makes a worker
    keep the list a thousand times over.

    One that goes on belongs to the key and to the day and revision as they were asked for, as its cursor does.
    """
    rows = costs_of.rows(snapshot, costs_only)
    whole = len(rows) <= page.limit
    asked = [] if whole else [f"{name}={request.args[name]}" for name in ("as_of", "known_at") if name in request.args]
    variant = ".".join((costs_of.name, str(page.limit) if not whole else "all", "costs" if costs_only else "full",
                        *(() if whole else (caller().key_id, *asked))))
    if page.after == "" and not asked and (whole or page.limit % LIMIT == 0):
        return snapshot.kept((variant, "page"), lambda: _built(costs_of, snapshot, page, rows, variant, positions))
    return _built(costs_of, snapshot, page, rows, f"{variant}.{page.after}", positions)


def _built(costs_of: CostList, snapshot: Snapshot, page: Page, rows: Sequence[Document], variant: str,
           positions: Positions) -> Prebuilt:
    start = next((n for n, row in enumerate(rows) if row[costs_of.code] > page.after), len(rows))
    shown = rows[start:start + page.limit]
    goes_on = shown[-1][costs_of.code] if start + page.limit < len(rows) else None
    body, _, headers = positions.cursors.page(shown, revision=page.position.revision, as_of=page.position.day,
                                              next_position=goes_on)
    return prebuilt(snapshot.position, variant, json_bytes(body), JSON, list(headers.items()))
