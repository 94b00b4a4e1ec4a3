"""Templates over HTTP: a supplier's items with empty prices, for the supplier to fill in and send back."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from flask import Response

from service.domain.errors import NotFound
from service.domain.supplier_item import SupplierItem
from service.domain.supplier_items import items_of
from service.rest.api_keys import needs
from service.rest.csv_answers import MEDIA_TYPE as CSV
from service.rest.csv_answers import disposition
from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.openapi_layer.schemas import Query
from service.rest.position import Positions
from service.use_cases.keep_record import stands

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MEDIA_TYPES: Mapping[str, str] = {"csv": CSV, "xlsx": XLSX}
MakeTemplate = Callable[[Sequence[SupplierItem], str], bytes]
"""From a supplier's items and the kitchen's currency to the bytes of a template."""


class TemplateQuery(Query):
    """Which form."""

    format = OneOf(tuple(MEDIA_TYPES), load_default="csv", metadata=says("CSV, or a workbook."))


def price_list_templates(positions: Positions, templates: Mapping[str, MakeTemplate]) -> Blueprint:
    """`/v1/suppliers/<code>/price-list-template`; `templates` makes the bytes of each form."""
    blueprint = Blueprint("price-list-templates", "Price lists for suppliers to fill in.", url_prefix="/v1/suppliers")
    binary = {"schema": {"type": "string", "format": "binary"}}

    @blueprint.get("/<code:code>/price-list-template")
    @needs("read")
    @blueprint.arguments(TemplateQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.doc(responses={200: {"description": "The template.", "headers": {
        "Content-Disposition": header_ref("Disposition")}, "content": {
            media_type.partition(";")[0]: binary for media_type in MEDIA_TYPES.values()}}})
    def read_price_list_template(query: Mapping[str, Any], code: str) -> Response:
        """Read a price list of the supplier's items to be filled in.

        One row for each item, its price left empty. Sent back, it is read without a question.
        """
        head, today = positions.ledger.head(), positions.ledger.today()
        kitchen = positions.ledger.kitchen(head.revision)
        if not stands(kitchen.suppliers.get(code, ()), today):
            raise NotFound(f"There is no supplier {code!r}.")
        items = sorted(items_of(kitchen, code, today).values(), key=lambda item: item.code)
        form = query["format"]
        template = templates[form](items, kitchen.settings_on(today).currency)
        answer = Response(template, content_type=MEDIA_TYPES[form])
        answer.headers["Content-Disposition"] = disposition(f"price-list-{code}.{form}")
        return answer

    return blueprint
