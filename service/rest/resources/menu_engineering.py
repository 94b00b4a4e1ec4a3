"""Menu engineering over HTTP: which dishes of a period are popular and which contribute, as JSON or as a table."""

from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from flask import Response, request

from service.rest.api_keys import caller, needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.costs_media import CSV, JSON, form_asked, json_bytes, prebuilt
from service.rest.csv_answers import Column, csv_bytes, disposition
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.places import takes_long
from service.rest.position import Positions
from service.rest.schemas.menu_engineering import MenuEngineeringAnswer, MenuEngineeringQuery
from service.use_cases.read_menu_engineering import (
    Engineered,
    engineered,
    hold_to_section,
    menu_engineering_document,
    menu_engineering_rows,
)
from service.use_cases.read_sales import hold_to_days
from service.use_cases.read_theoretical_food_cost import KeptPeriods, period_asked

_FREE_TEXT = frozenset(("name", "section", "pos_code"))
COLUMNS = tuple(Column(name, free_text=name in _FREE_TEXT) for name in (
    "dish", "name", "section", "pos_code", "covers", "share_percent", "price_before_tax", "food_cost", "contribution",
    "total_contribution", "covers_over_line", "contribution_over_mean", "popular", "contributing", "class",
    "popularity_line", "mean_contribution", "from", "to", "revision", "currency"))
"""Columns are only ever appended."""

_BOTH = {"responses": {200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}}}


def menu_engineering(positions: Positions) -> Blueprint:
    """`/v1/menu-engineering`."""
    blueprint = Blueprint("menu-engineering", "Which dishes are popular, and which contribute.",
                          url_prefix="/v1/menu-engineering")
    kept = KeptPeriods()

    @blueprint.get("")
    @takes_long
    @needs("read")
    @blueprint.arguments(MenuEngineeringQuery, location="query")
    @blueprint.refuses(406)
    @blueprint.doc(**_BOTH)
    @blueprint.response(200, MenuEngineeringAnswer, tagged=True,
                        headers={"Content-Disposition": header_ref("Disposition")})
    def read_menu_engineering(query: Mapping[str, Any]) -> Response:
        """Read which dishes of a period are popular and which contribute, by the two lines of menu engineering.

        Contribution is price before tax less food cost, each day's by that day's menu and costs; its line is the
        weighted mean. The popularity line is 70 % of an even share of the covers; dishes that nobody bought count in
        the number of dishes. A dish exactly on a line is above it. `Accept: text/csv` gives each dish as a row.
        """
        form = form_asked(JSON, CSV)
        hold_to_days(query["start"], query["end"])
        return prebuilt_answer(_answer(positions, kept, query, form), request)

    return blueprint


def _answer(positions: Positions, kept: KeptPeriods, query: Mapping[str, Any], form: str) -> Prebuilt:
    first, last, section = query["start"], query["end"], query.get("section")
    position = positions.asked({**query, "as_of": last})
    period = period_asked(positions.ledger, first, last, position, query.get("known_at", caller().head.revision))
    kitchen = positions.kitchen(position)
    hold_to_section(kitchen, section)
    of = "" if section is None else f"of {section}"

    def made() -> Prebuilt:
        return _built(kept.of(period, f"matrix {of}", lambda: engineered(positions.ledger, kitchen, period, section)),
                      form)

    return kept.of(period, f"{form} {of}", made)


def _built(found: Engineered, form: str) -> Prebuilt:
    """An answer. Its tag is of its bytes too: sales move no figure, so the hash of the position does not tell those of
    a restored ledger from others that were sent at the same revision before."""
    period = found.period
    body = csv_bytes(COLUMNS, menu_engineering_rows(found)) if form == CSV else json_bytes(
        menu_engineering_document(found))
    variant = f"menu-engineering.{period.first}.{period.sales_revision}.{sha256(body).hexdigest()[:16]}"
    if form == CSV:
        named = disposition(f"menu-engineering-{period.first}-{period.last}.csv")
        return prebuilt(period.position, f"{variant}-csv", body, CSV, [("Content-Disposition", named)])
    return prebuilt(period.position, variant, body, JSON)
