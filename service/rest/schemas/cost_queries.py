"""What may be asked of the lists of costs: which rows, and which members of each."""

from typing import Any

from service.rest.comma_lists import CommaList, MemberName
from service.rest.fields.choices import Flag
from service.rest.fields.exact_field import says
from service.rest.fields.texts import Code, Text
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import CutCostAnswer, DishCostAnswer, RecipeCostAnswer
from service.rest.schemas.records import ListQuery


def _codes(what: str) -> CommaList:
    return CommaList(Code(), metadata=says(
        f"Only these {what}. One that is not there on the day is left out of the answer."))


def _fields(answer: type[Answer], of: str) -> CommaList:
    members = [field.data_key or name for name, field in answer().fields.items()]
    return CommaList(MemberName(members), most=len(members), data_key="fields", metadata=says(
        f"Only these members of each {of}, in this order; as CSV, only these columns."))


class DishCostQuery(ListQuery):
    """Which dishes' costs."""

    codes = _codes("dishes")
    pos_codes = CommaList(Text(min=1, max=64), metadata=says(
        "Only dishes with these codes in the POS; one with a comma in it in double quotes."))
    section = Text(max=60, metadata=says("Only this part of the menu; empty: dishes of which none is said."))
    within_target = Flag(metadata=says(
        "true: only dishes within their target; false: only those above it. What is not known is neither."))
    only_fields: Any = _fields(DishCostAnswer, "dish")


class CutCostQuery(ListQuery):
    """Which cuts' costs."""

    codes = _codes("cuts")
    breakdown = Code(metadata=says("Only cuts that this breakdown makes."))
    only_fields: Any = _fields(CutCostAnswer, "cut")


class RecipeCostQuery(ListQuery):
    """Which recipes' costs."""

    codes = _codes("recipes")
    only_fields: Any = _fields(RecipeCostAnswer, "recipe")
