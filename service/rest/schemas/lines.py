"""The lines of recipes and dishes on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.recipe import Line
from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.numbers import ExactDecimal
from service.rest.fields.texts import Code, Text
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.ingredients import UNIT_NAMES
from service.rest.schemas.records import record
from service.rest.sentences import Sentence

_USES = ("ingredient", "cut", "recipe")
_NAME_ONE = Sentence("Name exactly one of ingredient, cut and recipe.", "name-exactly-one")


class _LineFacts(ma.Schema):
    ingredient = Code(metadata=says("The ingredient that it takes."))
    cut = Code(metadata=says("The cut that it takes; not one of role loss."))
    recipe = Code(metadata=says("The recipe that it takes."))
    quantity = ExactDecimal(positive=True, required=True, metadata=says(
        "What goes into the pot (as purchased), or with yields what is left after them (edible portion)."))
    unit = OneOf(UNIT_NAMES, required=True, metadata=says("The unit of `quantity`."))
    yield_percent = ExactDecimal(positive=True, metadata=says(
        "What preparation leaves, of 100; may exceed 100. 100 unless given."))
    cooking_yield_percent = ExactDecimal(positive=True, metadata=says(
        "What cooking leaves, of 100; may exceed 100 (rice, pulses). 100 unless given."))
    note = Text(max=500, metadata=says("For people."))


class LineRequest(_LineFacts, Request):
    """One line: an ingredient, a cut or another recipe, and how much of it."""

    @ma.validates_schema
    def _name_one(self, values: dict[str, Any], **_options: Any) -> None:
        if sum(name in values for name in _USES) != 1:
            raise ma.ValidationError([_NAME_ONE])

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Line:
        return record(Line, values)


class LineAnswer(_LineFacts, Answer):
    """One line, naming exactly one of ingredient, cut and recipe."""

    OPTIONAL = _USES
