"""Recipes on the wire."""

import marshmallow as ma

from service.domain.bounds import LINES
from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal
from service.rest.fields.texts import Name, Text
from service.rest.schemas.ingredients import CONVERSIONS, UNIT_NAMES, ConversionAnswer, ConversionRequest
from service.rest.schemas.lines import LineAnswer, LineRequest
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer


class _RecipeFacts(ma.Schema):
    name = Name(required=True, metadata=says("What the kitchen calls it."))
    makes_quantity = ExactDecimal(positive=True, required=True, metadata=says(
        "How much the lines make, in `makes_unit`."))
    makes_unit = OneOf(UNIT_NAMES, required=True, metadata=says("The unit of `makes_quantity`."))
    labour_minutes = ExactDecimal(non_negative=True, metadata=says(
        "Minutes of work for all that it makes. 0 unless given."))
    note = Text(max=2000, lines=True, metadata=says("For people."))


class RecipeRequest(_RecipeFacts, DatedRequest):
    """A recipe to be kept."""

    conversions = Several(Group(ConversionRequest), max=2, metadata=says(CONVERSIONS))
    lines = Several(Group(LineRequest), max=LINES, read_up_to=1000, required=True, metadata=says("What it takes."))


class RecipeAnswer(_RecipeFacts, RecordAnswer):
    """A recipe."""

    conversions = Several(Group(ConversionAnswer), metadata=says(CONVERSIONS))
    lines = Several(Group(LineAnswer), metadata=says("What it takes."))


class RecipePage(PageAnswer):
    """A page of recipes."""

    data = Several(Group(RecipeAnswer), metadata=says("By code."))
