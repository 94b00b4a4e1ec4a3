"""Ingredients and suppliers on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.allergen_lists import ALLERGENS
from service.domain.ingredient import StandardCode
from service.domain.quantity import UNITS, Conversion
from service.rest.exact_fields import Code, ExactDecimal, Group, Name, OneOf, Several, Text
from service.rest.openapi_layer.schemas import Request
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer, RecordRequest, record

UNIT_NAMES = tuple(UNITS)


class ConversionShape(Request):
    """`quantity` of `unit` is `to_quantity` of `to_unit`: 1 each = 0.055 kg."""

    quantity = ExactDecimal(positive=True, metadata={"description": "1 unless given."})
    unit = OneOf(UNIT_NAMES, required=True)
    to_quantity = ExactDecimal(positive=True, required=True)
    to_unit = OneOf(UNIT_NAMES, required=True)

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Conversion:
        return record(Conversion, values)


class StandardCodeShape(Request):
    """The ingredient's code in a published scheme."""

    scheme = Name(max=40, required=True)
    code = Name(max=40, required=True)

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> StandardCode:
        return record(StandardCode, values)


class _IngredientFacts(ma.Schema):
    name = Name(required=True)
    kind = Name(max=40, required=True, metadata={"description": "The kitchen's own word: primal, dairy, vegetable."})
    base_unit = OneOf(("kg", "l", "each"), required=True)
    conversions = Several(Group(ConversionShape), max=2)
    allergens = Several(OneOf(ALLERGENS), max=len(ALLERGENS), allow_none=True, metadata={
        "description": "Null or left out is not declared, which is not none; [] is none."})
    standard_codes = Several(Group(StandardCodeShape), max=10)
    preferred_supplier = Code(allow_none=True, metadata={"description": "Whose price decides. Dated."})


class IngredientRequest(_IngredientFacts, DatedRequest):
    """An ingredient to be kept."""


class IngredientAnswer(_IngredientFacts, RecordAnswer):
    """An ingredient."""


class IngredientPage(PageAnswer):
    """A page of ingredients."""

    data = Several(Group(IngredientAnswer))


class _SupplierFacts(ma.Schema):
    name = Name(required=True)
    note = Text(max=1000, lines=True)


class SupplierRequest(_SupplierFacts, RecordRequest):
    """A supplier to be kept."""


class SupplierAnswer(_SupplierFacts, RecordAnswer):
    """A supplier."""


class SupplierPage(PageAnswer):
    """A page of suppliers."""

    data = Several(Group(SupplierAnswer))
