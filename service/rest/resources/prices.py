"""Prices over HTTP: finance records them, withdraws a wrong one, and reads the price list of a day."""

from collections.abc import Mapping
from typing import Any

from service.rest.answered import answered
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.prices import (
    PriceAnswer,
    PriceListPage,
    PriceListQuery,
    PricePage,
    PriceRequest,
    ReasonRequest,
)
from service.rest.schemas.records import ListQuery
from service.use_cases.read_prices import price_history, price_list
from service.use_cases.record_price import PriceAsked, record_price
from service.use_cases.withdraw_price import withdraw_price


def prices(positions: Positions) -> Blueprint:
    """`/v1/ingredients/<code>/prices` and `/v1/prices`."""
    blueprint = Blueprint("prices", "What a supplier's pack costs, from which day.", url_prefix="/v1")
    _writes(blueprint, positions)
    _reads(blueprint, positions)
    return blueprint


def _writes(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.post("/ingredients/<code:code>/prices")
    @needs("prices:write")
    @blueprint.arguments(PriceRequest)
    @blueprint.idempotent
    @blueprint.refuses(404)
    @blueprint.response(201, PriceAnswer)
    def post_price(body: dict[str, Any], code: str) -> Any:
        """Record a price."""
        return answered(record_price(positions.ledger, code, PriceAsked(**body), asker()))

    @blueprint.post("/ingredients/<code:code>/prices/<code:price_id>/withdrawal")
    @needs("prices:write")
    @blueprint.arguments(ReasonRequest)
    @blueprint.idempotent
    @blueprint.refuses(404)
    @blueprint.response(200, PriceAnswer)
    def post_price_withdrawal(body: Mapping[str, Any], code: str, price_id: str) -> Any:
        """Withdraw a wrong price, with the reason; it is never erased."""
        return answered(withdraw_price(positions.ledger, code, price_id, body["reason"], asker()), 200)


def _reads(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.get("/ingredients/<code:code>/prices")
    @needs("read")
    @blueprint.arguments(ListQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, PricePage, paged=True)
    def list_ingredient_prices(query: Mapping[str, Any], code: str) -> Any:
        """List every price of an ingredient, withdrawn ones too, the one recorded last first."""
        page = positions.page(query)
        return positions.envelope(price_history(positions.kitchen(page.position), code, page.after, page.limit), page)

    @blueprint.get("/prices")
    @needs("read")
    @blueprint.arguments(PriceListQuery, location="query")
    @blueprint.response(200, PriceListPage, paged=True)
    def list_prices(query: Mapping[str, Any]) -> Any:
        """List the prices in force on a day, with the price per base unit."""
        page = positions.page(query)
        listed = price_list(positions.kitchen(page.position), page.position.day, query.get("supplier"), page.after,
                            page.limit)
        return positions.envelope(listed, page)
