"""Dishes on the wire."""

import marshmallow as ma

from service.domain.bounds import LINES
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal
from service.rest.fields.texts import Name, Text
from service.rest.schemas.lines import LineAnswer, LineRequest
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer


class _DishFacts(ma.Schema):
    name = Name(required=True, metadata=says("As the menu has it."))
    section = Text(max=60, metadata=says("The part of the menu it stands in."))
    portions = ExactDecimal(positive=True, required=True, metadata=says("Portions that the lines make."))
    allowance_percent = ExactDecimal(non_negative=True, max="1000", metadata=says(
        "On material, for what is not measured (salt, oil, garnish). 0 unless given."))
    labour_minutes = ExactDecimal(non_negative=True, metadata=says("Minutes of work for all portions. 0 unless given."))
    menu_price = ExactDecimal(non_negative=True, allow_none=True, metadata=says(
        "Of a portion, in the kitchen's currency, with tax unless the settings say that menu prices exclude it; "
        "null: not priced."))
    tax_rate_percent = ExactDecimal(non_negative=True, max="1000", allow_none=True, metadata=says(
        "Null: the kitchen's default."))
    target_food_cost_percent = ExactDecimal(positive=True, max="1000", allow_none=True, metadata=says(
        "Null: that of its section, or else the kitchen's default."))
    pos_code = Name(max=64, allow_none=True, metadata=says("The dish's code in the POS."))


class DishRequest(_DishFacts, DatedRequest):
    """A dish to be kept."""

    lines = Several(Group(LineRequest), max=LINES, read_up_to=1000, required=True, metadata=says(
        "What all portions take."))


class DishAnswer(_DishFacts, RecordAnswer):
    """A dish."""

    lines = Several(Group(LineAnswer), metadata=says("What all portions take."))


class DishPage(PageAnswer):
    """A page of dishes."""

    data = Several(Group(DishAnswer), metadata=says("By code."))
