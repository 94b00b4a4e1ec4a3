"""Ingredients and suppliers on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.allergen_lists import ALLERGENS
from service.domain.ingredient import StandardCode
from service.domain.quantity import UNITS, Conversion
from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal
from service.rest.fields.texts import Code, Name, Text
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer, RecordRequest, record

UNIT_NAMES = tuple(UNITS)
CONVERSIONS = "Between mass, volume and count, for this record alone; at most two, so that they form a tree."


class _ConversionFacts(ma.Schema):
    quantity = ExactDecimal(positive=True, metadata=says("How many of `unit`. 1 unless given."))
    unit = OneOf(UNIT_NAMES, required=True, metadata=says("From which unit."))
    to_quantity = ExactDecimal(positive=True, required=True, metadata=says("How many of `to_unit` that is."))
    to_unit = OneOf(UNIT_NAMES, required=True, metadata=says("Into which unit, of another dimension."))


class ConversionRequest(_ConversionFacts, Request):
    """`quantity` of `unit` is `to_quantity` of `to_unit`, such as 1 each = 0.055 kg. Holds in both directions."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Conversion:
        return record(Conversion, values)


class ConversionAnswer(_ConversionFacts, Answer):
    """`quantity` of `unit` is `to_quantity` of `to_unit`."""


class _StandardCodeFacts(ma.Schema):
    scheme = Name(max=40, required=True, metadata=says("The scheme, such as UNECE-BOVINE."))
    code = Name(max=40, required=True, metadata=says("The code in that scheme."))


class StandardCodeRequest(_StandardCodeFacts, Request):
    """The ingredient's code in a published scheme."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> StandardCode:
        return record(StandardCode, values)


class StandardCodeAnswer(_StandardCodeFacts, Answer):
    """The ingredient's code in a published scheme."""


class _IngredientFacts(ma.Schema):
    name = Name(required=True, metadata=says("What the kitchen calls it."))
    kind = Name(max=40, required=True, metadata=says("The kitchen's own word: primal, dairy, vegetable."))
    base_unit = OneOf(("kg", "l", "each"), required=True, metadata=says("In which its costs are kept."))
    allergens = Several(OneOf(ALLERGENS), max=len(ALLERGENS), allow_none=True, metadata=says(
        "Null or left out is not declared, which is not none; [] is none. GET /v1/allergens names the lists that the "
        "words are of."))
    preferred_supplier = Code(allow_none=True, metadata=says(
        "Whose price decides. With none, the only supplier with a price in force; with several, a gap. Dated."))


class IngredientRequest(_IngredientFacts, DatedRequest):
    """An ingredient to be kept."""

    conversions = Several(Group(ConversionRequest), max=2, metadata=says(CONVERSIONS))
    standard_codes = Several(Group(StandardCodeRequest), max=10, metadata=says("Its codes in published schemes."))


class IngredientAnswer(_IngredientFacts, RecordAnswer):
    """An ingredient."""

    conversions = Several(Group(ConversionAnswer), metadata=says(CONVERSIONS))
    standard_codes = Several(Group(StandardCodeAnswer), metadata=says("Its codes in published schemes."))


class IngredientPage(PageAnswer):
    """A page of ingredients."""

    data = Several(Group(IngredientAnswer), metadata=says("By code."))


class _SupplierFacts(ma.Schema):
    name = Name(required=True, metadata=says("What the kitchen calls it."))
    note = Text(max=1000, lines=True, metadata=says("For people."))


class SupplierRequest(_SupplierFacts, RecordRequest):
    """A supplier to be kept."""


class SupplierAnswer(_SupplierFacts, RecordAnswer):
    """A supplier."""


class SupplierPage(PageAnswer):
    """A page of suppliers."""

    data = Several(Group(SupplierAnswer), metadata=says("By code."))
