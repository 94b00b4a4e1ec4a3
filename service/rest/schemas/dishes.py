"""Dishes on the wire."""

import marshmallow as ma

from service.rest.exact_fields import ExactDecimal, Group, Name, Several, Text
from service.rest.schemas.lines import LineAnswer, LineRequest
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer


class _DishFacts(ma.Schema):
    name = Name(required=True)
    section = Text(max=60, metadata={"description": "The part of the menu it stands in."})
    portions = ExactDecimal(positive=True, required=True, metadata={"description": "Portions that the lines make."})
    allowance_percent = ExactDecimal(non_negative=True, max="1000", metadata={
        "description": "On material, for what is not measured (salt, oil, garnish). 0 unless given."})
    labour_minutes = ExactDecimal(non_negative=True, metadata={"description": "For all portions. 0 unless given."})
    menu_price = ExactDecimal(non_negative=True, allow_none=True, metadata={
        "description": "A portion, in the kitchen's currency; null: not priced."})
    tax_rate_percent = ExactDecimal(non_negative=True, max="1000", allow_none=True, metadata={
        "description": "Null: the kitchen's default."})
    target_food_cost_percent = ExactDecimal(positive=True, max="1000", allow_none=True, metadata={
        "description": "Null: the kitchen's default."})
    pos_code = Name(max=64, allow_none=True, metadata={"description": "The dish's code in the POS."})


class DishRequest(_DishFacts, DatedRequest):
    """A dish to be kept."""

    lines = Several(Group(LineRequest), max=1000, required=True)


class DishAnswer(_DishFacts, RecordAnswer):
    """A dish."""

    lines = Several(Group(LineAnswer))


class DishPage(PageAnswer):
    """A page of dishes."""

    data = Several(Group(DishAnswer))
