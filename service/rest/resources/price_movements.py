"""Price movements over HTTP: what moved between two days and why, as JSON or as a table that adds up; by covers too."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.rest.api_keys import caller, needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.costs_media import CSV, JSON, form_asked, json_bytes, prebuilt
from service.rest.csv_answers import Column, csv_bytes, disposition
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.places import takes_long
from service.rest.position import Page, Positions
from service.rest.schemas.price_movements import (
    MovementsPage,
    MovementsQuery,
    WeighedMovementsAnswer,
    WeighedMovementsRequest,
)
from service.use_cases.position import Position
from service.use_cases.price_movement_rows import (
    Movements,
    dish_rows,
    ingredient_rows,
    movement_facts,
    revisions_of,
    share_rows,
)
from service.use_cases.read_price_movements import KeptMovements, covers_by_dish, hold_to_span

_FREE_TEXT = frozenset(("ingredient_name", "dish_name"))
COLUMNS = tuple(Column(name, free_text=name in _FREE_TEXT) for name in (
    "part", "ingredient", "ingredient_name", "dish", "dish_name", "covers", "share", "menu_share", "from", "to",
    "revision", "currency"))
"""Columns are only ever appended."""

_BOTH = {"responses": {200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}}}
_DISPOSITION = {"Content-Disposition": header_ref("Disposition")}


def price_movements(positions: Positions) -> Blueprint:
    """`/v1/price-movements`."""
    blueprint = Blueprint("price-movements", "What moved between two days, and by which records.",
                          url_prefix="/v1/price-movements")
    kept = KeptMovements()
    _list(blueprint, positions, kept)
    _weigh(blueprint, positions, kept)
    return blueprint


def _list(blueprint: Blueprint, positions: Positions, kept: KeptMovements) -> None:
    @blueprint.get("")
    @takes_long
    @needs("read")
    @blueprint.arguments(MovementsQuery, location="query")
    @blueprint.refuses(406)
    @blueprint.doc(**_BOTH)
    @blueprint.response(200, MovementsPage, tagged=True, paged=True, headers=_DISPOSITION)
    def list_price_movements(query: Mapping[str, Any]) -> Response:
        """List what moved between two days: ingredients, dishes, the menu.

        Changes are taken one after another as they came into force, each at the published difference that it makes, so
        that the parts of a dish add up to its movement exactly. `Accept: text/csv` gives every share as a row, whole,
        with rows for what is left; `limit` and `cursor` are for JSON.
        """
        form = form_asked(JSON, CSV)
        page = positions.page(_as_of(query))
        hold_to_span(query["start"], page.position.day)
        movements = _movements(positions, kept, page.position, query)
        answer = _table(movements, page.position) if form == CSV else _page(movements, page, positions)
        return prebuilt_answer(answer, request)


def _weigh(blueprint: Blueprint, positions: Positions, kept: KeptMovements) -> None:
    @blueprint.post("")
    @takes_long
    @needs("read")
    @blueprint.arguments(WeighedMovementsRequest)
    @blueprint.refuses(406)
    @blueprint.doc(**_BOTH)
    @blueprint.response(200, WeighedMovementsAnswer, headers=_DISPOSITION)
    def read_weighed_price_movements(body: Mapping[str, Any]) -> Response:
        """Read what moved between two days, the menu weighed by the covers of its dishes.

        The whole answer at once; nothing is stored. `Accept: text/csv` gives every share as a row.
        """
        form = form_asked(JSON, CSV)
        position = positions.asked_in_body(_as_of(body))
        hold_to_span(body["start"], position.day, in_body=True)
        covers = covers_by_dish(positions.kitchen(position), body["covers"])
        movements = _movements(positions, kept, position, body, covers)
        if form == CSV:
            return _sent(csv_bytes(COLUMNS, share_rows(movements)), CSV, movements)
        told = positions.ledger.revisions(revisions_of(movements.moved.ingredients))
        return _sent(json_bytes(movement_facts(movements) | {
            "data": ingredient_rows(movements, movements.moved.ingredients, told),
            "dishes": dish_rows(movements)}), JSON, movements)


def _as_of(asked: Mapping[str, Any]) -> dict[str, Any]:
    """A position is as of its last day."""
    return {**asked, "as_of": asked["end"]} if "end" in asked else dict(asked)


def _movements(positions: Positions, kept: KeptMovements, position: Position, asked: Mapping[str, Any],
               covers: Mapping[str, int] | None = None) -> Movements:
    kitchen = positions.kitchen(position)
    moved = kept.of(kitchen, position, asked["start"])
    return Movements(kitchen, asked["start"], position.day, position.revision, moved, covers)


def _table(movements: Movements, position: Position) -> Prebuilt:
    return prebuilt(position, f"price-movements.{movements.start}-csv", csv_bytes(COLUMNS, share_rows(movements)), CSV,
                    [("Content-Disposition", disposition(_name(movements)))])


def _page(movements: Movements, page: Page, positions: Positions) -> Prebuilt:
    """A page; one that goes on belongs to the key and the parameters that it was asked with, as its cursor does."""
    rest = [each for each in movements.moved.ingredients if each.code > page.after]
    shown = rest[:page.limit]
    goes_on = shown[-1].code if len(rest) > page.limit else None
    told = positions.ledger.revisions(revisions_of(shown))
    body, _, headers = positions.cursors.page(
        ingredient_rows(movements, shown, told), revision=page.position.revision, as_of=page.position.day,
        next_position=goes_on)
    dishes = dish_rows(movements) if page.after == "" else None
    bound = [] if goes_on is None else [
        caller().key_id, *(f"{name}={request.args[name]}" for name in ("to", "known_at") if name in request.args)]
    variant = ".".join(("price-movements", str(movements.start), str(page.limit), page.after, *bound))
    return prebuilt(page.position, variant, json_bytes(movement_facts(movements) | body | {"dishes": dishes}), JSON,
                    list(headers.items()))


def _sent(body: bytes, media_type: str, movements: Movements) -> Response:
    answer = Response(body, 200, content_type=media_type)
    if media_type == CSV:
        answer.headers["Content-Disposition"] = disposition(_name(movements))
    return answer


def _name(movements: Movements) -> str:
    return f"price-movements-{movements.start}-{movements.end}.csv"
