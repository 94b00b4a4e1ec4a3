"""Suppliers' items over HTTP: finance says once what a supplier's code stands for; later lists are understood by it."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from service.domain.supplier_item import SupplierItem, item_key
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.records import PositionQuery, RetireQuery, record
from service.rest.schemas.supplier_items import (
    SupplierItemAnswer,
    SupplierItemPage,
    SupplierItemQuery,
    SupplierItemRequest,
)
from service.use_cases.conditions import Condition
from service.use_cases.keep_record import keep_record
from service.use_cases.kept_kinds import supplier_item_kind
from service.use_cases.read_record import read_record
from service.use_cases.read_supplier_items import supplier_items as items_of
from service.use_cases.retire_record import retire_record


def supplier_items(positions: Positions) -> Blueprint:
    """`/v1/suppliers/<code>/items` and `/v1/suppliers/<code>/items/<the supplier's code>`."""
    blueprint = Blueprint("supplier-items", "What a supplier's own codes stand for, and how the items are packed.",
                          url_prefix="/v1/suppliers/<code:code>/items")
    _reads(blueprint, positions)
    _writes(blueprint, positions)
    return blueprint


def _reads(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(SupplierItemQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, SupplierItemPage, paged=True)
    def list_supplier_items(query: Mapping[str, Any], code: str) -> Any:
        """List a supplier's items that stand on a day."""
        page = positions.recorded_page(query)
        kitchen = positions.kitchen(page.position)
        return positions.envelope(
            items_of(kitchen, code, query.get("ingredient"), page.position.day, page.after, page.limit), page)

    @blueprint.get("/<item:item>")
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.response(200, SupplierItemAnswer, tagged=True)
    def read_supplier_item(query: Mapping[str, Any], code: str, item: str) -> Any:
        """Read what one of a supplier's codes stands for on a day."""
        position = positions.recorded(query)
        return read_record(positions.kitchen(position), supplier_item_kind, item_key(code, item), position.day)


def _writes(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.put("/<item:item>")
    @needs("prices:write")
    @blueprint.arguments(SupplierItemRequest)
    @blueprint.conditional
    @blueprint.refuses(404)
    @blueprint.response(200, SupplierItemAnswer, created=True)
    def keep_supplier_item(body: dict[str, Any], condition: Condition, code: str, item: str) -> Any:
        """Say what one of a supplier's codes stands for, from a day on.

        The code is the supplier's, 1 to 64 visible characters, percent-encoded as addresses need it (`10%2F2`). It
        moves no figure. Replacing needs If-Match with the revision seen; one equal to what is in force is left as it
        is.
        """
        start = body.pop("effective_from", None)
        kept = record(SupplierItem, body | {"supplier": code, "code": item})
        came = keep_record(positions.ledger, supplier_item_kind, item_key(code, item), kept, start, condition, asker())
        if came.outcome != "created":
            return came.document
        return came.document, 201, {"Location": f"/v1/suppliers/{code}/items/{quote(item, safe='')}"}

    @blueprint.delete("/<item:item>")
    @needs("prices:write")
    @blueprint.arguments(RetireQuery, location="query")
    @blueprint.conditional
    @blueprint.response(204)
    def retire_supplier_item(query: Mapping[str, Any], condition: Condition, code: str, item: str) -> None:
        """Retire one of a supplier's items from a day on.

        Nothing is erased, and prices that were recorded by it stand.
        """
        retire_record(positions.ledger, supplier_item_kind, item_key(code, item), query.get("effective_from"),
                      condition, asker())
