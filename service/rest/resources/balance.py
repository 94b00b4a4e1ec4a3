"""The balance of a menu over HTTP: from covers to what must be bought, and to what of it is left over."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.rest.api_keys import caller, needs
from service.rest.costs_media import JSON, json_bytes
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.places import takes_long
from service.rest.position import Positions
from service.rest.schemas.balance import BalanceAnswer, BalanceRequest
from service.use_cases.balance_menu import BalanceAsked, balance_menu
from service.use_cases.covers_asked import covers_given, covers_sold


def balance(positions: Positions) -> Blueprint:
    """`/v1/balance`."""
    blueprint = Blueprint("balance", "What covers need of every cut, and what is left over.", url_prefix="/v1/balance")

    @blueprint.post("")
    @takes_long
    @needs("read")
    @blueprint.arguments(BalanceRequest)
    @blueprint.response(200, BalanceAnswer)
    def read_balance(body: Mapping[str, Any]) -> Response:
        """Read what so many covers need of every cut, what to buy for it, and what is left over of the rest.

        Covers are given, or what was served on some business dates. Per breakdown: the cut that binds, whole pieces to
        buy, and of every other cut what stays, in kg, portions and money. Beside the food cost that the dishes' figures
        say stands what the whole primals really cost: the difference is what nobody eats. Nothing is stored.
        """
        return Response(json_bytes(_balanced(positions, body)), 200, content_type=JSON)

    return blueprint


def _balanced(positions: Positions, body: Mapping[str, Any]) -> Mapping[str, Any]:
    snapshot = positions.snapshot(positions.asked_in_body(body))
    if "covers" in body:
        covers = covers_given(body["covers"], snapshot.kitchen.dishes, snapshot.position.day)
        revision = snapshot.position.revision
    else:
        revision = body.get("known_at", caller().head.revision)
        covers = covers_sold(positions.ledger, snapshot.recorded, body["covers_from_sales"], revision)
    return balance_menu(snapshot, BalanceAsked(covers, revision, body["whole_pieces"]))
