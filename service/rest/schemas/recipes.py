"""Recipes on the wire."""

import marshmallow as ma

from service.rest.exact_fields import ExactDecimal, Group, Name, OneOf, Several, Text
from service.rest.schemas.ingredients import UNIT_NAMES, ConversionShape
from service.rest.schemas.lines import LineAnswer, LineRequest
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer


class _RecipeFacts(ma.Schema):
    name = Name(required=True)
    makes_quantity = ExactDecimal(positive=True, required=True)
    makes_unit = OneOf(UNIT_NAMES, required=True)
    labour_minutes = ExactDecimal(non_negative=True, metadata={"description": "For all that it makes. 0 unless given."})
    conversions = Several(Group(ConversionShape), max=2)
    note = Text(max=2000, lines=True)


class RecipeRequest(_RecipeFacts, DatedRequest):
    """A recipe to be kept."""

    lines = Several(Group(LineRequest), max=1000, required=True)


class RecipeAnswer(_RecipeFacts, RecordAnswer):
    """A recipe."""

    lines = Several(Group(LineAnswer))


class RecipePage(PageAnswer):
    """A page of recipes."""

    data = Several(Group(RecipeAnswer))
