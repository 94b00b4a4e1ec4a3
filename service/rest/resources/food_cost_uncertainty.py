"""Food-cost uncertainty over HTTP: how far each dish could be off by its yields, and how many more tests would help."""

from collections.abc import Mapping
from fractions import Fraction
from hashlib import sha256
from typing import Any

from flask import Response, request

from service.rest.api_keys import caller, needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.costs_media import JSON, json_bytes, prebuilt
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.places import takes_long
from service.rest.position import Page, Positions
from service.rest.recent_answers import recent_answers
from service.rest.schemas.food_cost_uncertainty import FoodCostUncertaintyPage, FoodCostUncertaintyQuery
from service.use_cases.documents import plain
from service.use_cases.read_food_cost_uncertainty import uncertain_dishes, uncertainty_rows
from service.use_cases.snapshot import Snapshot


def food_cost_uncertainty(positions: Positions) -> Blueprint:
    """`/v1/food-cost-uncertainty`."""
    blueprint = Blueprint("food-cost-uncertainty", "How far food costs could be off by their yields.",
                          url_prefix="/v1/food-cost-uncertainty")

    @blueprint.get("")
    @takes_long
    @needs("read")
    @blueprint.arguments(FoodCostUncertaintyQuery, location="query")
    @blueprint.response(200, FoodCostUncertaintyPage, tagged=True, paged=True)
    def list_food_cost_uncertainty(query: Mapping[str, Any]) -> Response:
        """List how far the food cost of every dish could be off because its yields rest on few tests.

        First-order propagation of what the yield tests of each breakdown scatter, with the covariance of the yields
        within a test; the tests of different breakdowns are independent. Prices, recipes and portions are taken as
        they stand.
        """
        page = positions.page(query)
        snapshot = positions.snapshot(page.position)
        asked = sha256(request.query_string).hexdigest()[:24]
        variant = f"food-cost-uncertainty.{asked}.{caller().key_id}"
        answer = recent_answers(snapshot).kept(variant, lambda: _built(snapshot, query, page, positions, variant))
        return prebuilt_answer(answer, request)

    return blueprint


def _built(snapshot: Snapshot, query: Mapping[str, Any], page: Page, positions: Positions, variant: str) -> Prebuilt:
    """A page; it belongs to the key that asked, as its cursor does."""
    codes = [code for code in uncertain_dishes(snapshot, query.get("dishes"), query.get("breakdown"))
             if code > page.after]
    shown, within = codes[:page.limit], Fraction(query["within_percent"]) / 100
    body, _, headers = positions.cursors.page(
        uncertainty_rows(snapshot, shown, within), revision=snapshot.position.revision, as_of=snapshot.position.day,
        next_position=shown[-1] if len(codes) > page.limit else None)
    facts = {"currency": snapshot.kitchen.settings.currency, "within_percent": plain(query["within_percent"])}
    return prebuilt(snapshot.position, variant, json_bytes(facts | body), JSON, list(headers.items()))
