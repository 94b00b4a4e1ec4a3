"""Theoretical food cost over HTTP: what the sales of a day or a period should have cost, as JSON or as a table."""

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
from service.rest.schemas.theoretical_food_cost import FIGURES, FoodCostQuery, TheoreticalFoodCostAnswer
from service.use_cases.read_sales import hold_to_days
from service.use_cases.read_theoretical_food_cost import KeptPeriods, food_cost_of, period_asked
from service.use_cases.theoretical_food_cost_rows import Costed, food_cost_document, food_cost_rows

_FREE_TEXT = frozenset(("name", "section", "pos_code"))
COLUMNS = tuple(Column(name, free_text=name in _FREE_TEXT) for name in (
    "part", "business_date", "section", "dish", "name", "pos_code", "reason", "dishes", *FIGURES, "from", "to",
    "revision", "currency"))
"""Columns are only ever appended."""

_BOTH = {"responses": {200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}}}


def theoretical_food_cost(positions: Positions) -> Blueprint:
    """`/v1/theoretical-food-cost`."""
    blueprint = Blueprint("theoretical-food-cost", "What the dishes that were sold should have cost.",
                          url_prefix="/v1/theoretical-food-cost")
    kept = KeptPeriods()

    @blueprint.get("")
    @takes_long
    @needs("read")
    @blueprint.arguments(FoodCostQuery, location="query")
    @blueprint.refuses(406)
    @blueprint.doc(**_BOTH)
    @blueprint.response(200, TheoreticalFoodCostAnswer, tagged=True,
                        headers={"Content-Disposition": header_ref("Disposition")})
    def read_theoretical_food_cost(query: Mapping[str, Any]) -> Response:
        """Read what the sales of a period should have cost: whole, by day, by section and by dish.

        Each day's sales at that day's costs. Comps and staff meals are apart from what was sold. What was sold under a
        code that no dish bears is listed, and in no figure; what lacks a cost makes the total null, with the known part
        beside it. `Accept: text/csv` gives each of them as a row.
        """
        form = form_asked(JSON, CSV)
        hold_to_days(query["start"], query["end"])
        return prebuilt_answer(_answer(positions, kept, query, form), request)

    return blueprint


def _answer(positions: Positions, kept: KeptPeriods, query: Mapping[str, Any], form: str) -> Prebuilt:
    first, last = query["start"], query["end"]
    position = positions.asked({**query, "as_of": last})
    period = period_asked(positions.ledger, first, last, position, query.get("known_at", caller().head.revision))

    def made() -> Prebuilt:
        kitchen = positions.kitchen(position)
        found = kept.of(period, "figures", lambda: food_cost_of(positions.ledger, kitchen, period))
        return _built(Costed(period, found, kitchen.settings_on(last).currency), form)

    return kept.of(period, form, made)


def _built(costed: Costed, form: str) -> Prebuilt:
    """An answer. Its tag is of its bytes too: sales move no figure, so the hash of the position does not tell those of
    a restored ledger from others that were sent at the same revision before."""
    period = costed.period
    body = csv_bytes(COLUMNS, food_cost_rows(costed)) if form == CSV else json_bytes(food_cost_document(costed))
    variant = f"theoretical-food-cost.{period.first}.{period.sales_revision}.{sha256(body).hexdigest()[:16]}"
    if form == CSV:
        named = disposition(f"theoretical-food-cost-{period.first}-{period.last}.csv")
        return prebuilt(period.position, f"{variant}-csv", body, CSV, [("Content-Disposition", named)])
    return prebuilt(period.position, variant, body, JSON)
