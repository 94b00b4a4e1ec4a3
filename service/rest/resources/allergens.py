"""Allergens over HTTP: of a dish, with the ways that bring them in; of the menu, as pages or as a table."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from hashlib import sha256
from typing import Any

from flask import Response, request

from service.domain.allergen_lists import ALLERGENS
from service.domain.allergen_paths import AllergenState
from service.rest.api_keys import caller, needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.costs_media import CSV, JSON, csv_prebuilt, form_asked, json_bytes, prebuilt
from service.rest.csv_answers import Column
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.position import Page, Positions
from service.rest.recent_answers import recent_answers
from service.rest.schemas.allergens import (
    DishAllergensAnswer,
    DishAllergensQuery,
    MenuAllergensPage,
    MenuAllergensQuery,
)
from service.use_cases.documents import Document
from service.use_cases.read_allergens import lists_and_cautions, menu_allergens
from service.use_cases.read_allergens import read_dish_allergens as allergens_of
from service.use_cases.snapshot import Snapshot

_FREE_TEXT = frozenset(("name", "section", "pos_code"))
_FIRST = ("dish", "name", "section", "pos_code", "allergens_complete", "allergens_not_declared", "as_of", "revision")
"""The columns before those of the allergens, of which more may come."""


def allergens(positions: Positions) -> Blueprint:
    """`/v1/dishes/<code>/allergens` and `/v1/allergens`."""
    blueprint = Blueprint("allergens", "What dishes contain, by which way, and what nobody has declared.",
                          url_prefix="/v1")
    _add_of_a_dish(blueprint, positions)
    _add_of_the_menu(blueprint, positions)
    return blueprint


def _add_of_a_dish(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.get("/dishes/<code:code>/allergens")
    @needs("read")
    @blueprint.arguments(DishAllergensQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, DishAllergensAnswer, tagged=True)
    def read_dish_allergens(query: Mapping[str, Any], code: str) -> Response:
        """Read the allergens of a dish, and by which way each comes in.

        Rolled up from what its ingredients declare, through cuts, recipes and breakdowns. What declares nothing is
        listed, and leaves what is not known to be in the dish `unknown`: that is not none.
        """
        snapshot = positions.snapshot(positions.asked(query))
        named = query.get("allergen", ())
        variant = f"allergens-of.{code}.{_mark(','.join(named).encode())}"
        return prebuilt_answer(recent_answers(snapshot).kept(variant, lambda: prebuilt(
            snapshot.position, variant, json_bytes(allergens_of(snapshot, code, named)), JSON)), request)


def _add_of_the_menu(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.get("/allergens")
    @needs("read")
    @blueprint.arguments(MenuAllergensQuery, location="query")
    @blueprint.refuses(406)
    @blueprint.doc(responses={200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}})
    @blueprint.response(200, MenuAllergensPage, tagged=True, paged=True,
                        headers={"Content-Disposition": header_ref("Disposition")})
    def list_allergens(query: Mapping[str, Any]) -> Response:
        """List the allergens of every dish of the menu, as JSON in pages or as CSV whole.

        `Accept: text/csv` gives a table of dishes and allergens, with the state of each; `limit` and `cursor` are for
        JSON. `allergen` chooses what is told, `section` and `state` which dishes.
        """
        page, form = positions.page(query), form_asked(JSON, CSV)
        snapshot, variant = positions.snapshot(page.position), f"allergens.{_mark(request.query_string)}"

        def rows() -> Sequence[Document]:
            return menu_allergens(snapshot, query.get("allergen", ()), query.get("section"), query.get("state", ()))

        if form == CSV:
            return prebuilt_answer(recent_answers(snapshot).kept(f"{variant}-csv", lambda: _table(
                snapshot, variant, rows(), query.get("allergen") or ALLERGENS)), request)
        return prebuilt_answer(_page(positions, snapshot, page, variant, rows), request)


def _mark(asked: bytes) -> str:
    """What was asked for, as a part of a tag: two requests that may be answered otherwise differ in it."""
    return sha256(asked).hexdigest()[:16]


def _page(positions: Positions, snapshot: Snapshot, page: Page, variant: str, rows: Callable[[], Sequence[Document]]
          ) -> Prebuilt:
    """A page: one for all keys where it holds all there is, else the key's own, as its cursor is."""
    recent, own = recent_answers(snapshot), f"{variant}.{caller().key_id}"
    found = recent.found(variant) or recent.found(own)
    if found is not None:
        return found
    every = rows()
    start = next((place for place, row in enumerate(every) if row["dish"] > page.after), len(every))
    shown, goes_on = every[start:start + page.limit], start + page.limit < len(every)
    body, _, headers = positions.cursors.page(shown, revision=snapshot.position.revision, as_of=snapshot.position.day,
                                              next_position=shown[-1]["dish"] if goes_on else None)
    told = variant if len(shown) == len(every) else own
    return recent.kept(told, lambda: prebuilt(
        snapshot.position, told, json_bytes(body | lists_and_cautions()), JSON, list(headers.items())))


def _table(snapshot: Snapshot, variant: str, rows: Iterable[Document], told: Sequence[str]) -> Prebuilt:
    columns = [Column(name, free_text=name in _FREE_TEXT) for name in (*_FIRST, *(
        allergen for allergen in ALLERGENS if allergen in told))]
    return csv_prebuilt(snapshot, variant, columns, list(_table_rows(snapshot, rows)),
                        f"allergens-{snapshot.position.day}.csv")


def _table_rows(snapshot: Snapshot, rows: Iterable[Document]) -> Iterator[Document]:
    """Each dish with the state of each allergen in a column of its own."""
    of = {"as_of": snapshot.position.day.isoformat(), "revision": snapshot.position.revision}
    for row in rows:
        yield row | of | {allergen: state.value for state in AllergenState for allergen in row[state]}
