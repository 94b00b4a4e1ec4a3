"""What-if over HTTP: changes that nobody has recorded, and what they would do; and what would mend a dish."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.rest.api_keys import needs
from service.rest.conditional import prebuilt_answer
from service.rest.costs_media import JSON, json_answer, json_bytes
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.places import takes_long
from service.rest.position import Positions
from service.rest.schemas.records import PositionQuery
from service.rest.schemas.what_if import WhatIfRequest, supposition_of
from service.rest.schemas.what_if_answer import DishMendsAnswer, WhatIfAnswer
from service.use_cases.covers_asked import PAID_FOR, Covers, covers_given, covers_sold
from service.use_cases.mend_documents import dish_mends
from service.use_cases.snapshot import Snapshot
from service.use_cases.what_if import LISTS
from service.use_cases.what_if import what_if as what_would_be


def what_if(positions: Positions) -> Blueprint:
    """`/v1/what-if`, and `/v1/dish-costs/CODE/mends`."""
    blueprint = Blueprint("what-if", "What changes that nobody has recorded would do to the menu.", url_prefix="/v1")

    @blueprint.post("/what-if")
    @takes_long
    @needs("read")
    @blueprint.arguments(WhatIfRequest)
    @blueprint.response(200, WhatIfAnswer)
    def read_what_if(body: Mapping[str, Any]) -> Response:
        """Read what changes of prices, yields, methods, menu prices, portions or lines would do.

        Nothing is stored. The figures are those that recording the changes that day would give, to the digit: what
        could not be recorded is refused, but for a day of a closed period, which may be asked about. `covers`, or
        `covers_from_sales` (what was paid for), weigh the menu. A `ramp` moves prices in steps on top of it all and
        answers with curves.
        """
        snapshot = positions.snapshot(positions.asked_in_body(body))
        found = what_would_be(snapshot, supposition_of(dict(body)), _covers(body, snapshot, positions),
                              body.get("ramp"), body.get("mends_for"), body.get("lists", LISTS))
        return Response(json_bytes(found), 200, content_type=JSON)

    @blueprint.get("/dish-costs/<code:code>/mends")
    @takes_long
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, DishMendsAnswer, tagged=True)
    def read_dish_mends(query: Mapping[str, Any], code: str) -> Response:
        """Read what would mend a dish that is outside its target: a menu price, portions, or an ingredient's price.

        Each alone, all else as it is.
        """
        snapshot = positions.snapshot(positions.asked(query))
        return prebuilt_answer(json_answer(snapshot, f"mends.{code}", lambda: dish_mends(snapshot, code)), request)

    return blueprint


def _covers(body: Mapping[str, Any], snapshot: Snapshot, positions: Positions) -> Covers | None:
    """The covers that weigh the menu; None: one portion of each dish."""
    if "covers" in body:
        return covers_given(body["covers"], snapshot.kitchen.dishes, snapshot.position.day)
    if "covers_from_sales" in body:
        known_at = body.get("known_at", positions.ledger.head().revision)
        return covers_sold(positions.ledger, snapshot.recorded, body["covers_from_sales"], known_at, PAID_FOR)
    return None
