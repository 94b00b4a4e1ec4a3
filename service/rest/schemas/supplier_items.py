"""Suppliers' items on the wire."""

from typing import Any, ClassVar

import marshmallow as ma

from service.domain.supplier_item import PACK, Pack
from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal
from service.rest.fields.texts import Code, Name, Text
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.ingredients import UNIT_NAMES
from service.rest.schemas.records import READ_ONLY, DatedRequest, ListQuery, PageAnswer, RecordAnswer, record


class _PackFacts(ma.Schema):
    name = Name(max=40, required=True, metadata=says("What the supplier calls it: case, tray, bag."))
    count = ExactDecimal(positive=True, required=True, metadata=says("How many pieces it holds."))
    quantity = ExactDecimal(positive=True, required=True, metadata=says("How much each piece holds, in `unit`."))
    unit = OneOf(UNIT_NAMES, required=True, metadata=says("Of `quantity`; converts into the ingredient's base unit."))


class PackRequest(_PackFacts, Request):
    """One pack: a case of 2 pieces of 5 kg holds 10 kg."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Pack:
        return record(Pack, values)


class PackAnswer(_PackFacts, Answer):
    """One pack: `count` pieces of `quantity` `unit` each."""


class _SupplierItemFacts(ma.Schema):
    name = Name(required=True, metadata=says("What the supplier calls it. Not dated."))
    ingredient = Code(required=True, metadata=says("Which ingredient it is here."))
    priced_per = OneOf((PACK, *UNIT_NAMES), metadata=says(
        "What a price is for where a list does not say: the `pack`, or a unit. `pack` unless given."))
    gtin = Text(max=14, metadata=says(
        "Its GTIN, of 8, 12, 13 or 14 digits, whose check digit is checked; empty: it has none. Not dated."))


class SupplierItemRequest(_SupplierItemFacts, DatedRequest):
    """What a supplier's code stands for, to be kept."""

    READ_ONLY: ClassVar[tuple[str, ...]] = (*READ_ONLY, "supplier")

    pack = Group(PackRequest, required=True, metadata=says("What one pack of it holds."))


class SupplierItemAnswer(_SupplierItemFacts, RecordAnswer):
    """What a supplier's code stands for."""

    code = Text(metadata=says("The supplier's own code for it, as the supplier writes it."))
    supplier = Code(metadata=says("Whose code it is."))
    pack = Group(PackAnswer, metadata=says("What one pack of it holds."))


class SupplierItemQuery(ListQuery):
    """Which of a supplier's items."""

    ingredient = Code(metadata=says("Those that are this ingredient alone."))


class SupplierItemPage(PageAnswer):
    """A page of a supplier's items."""

    data = Several(Group(SupplierItemAnswer), metadata=says("By the supplier's own codes."))
