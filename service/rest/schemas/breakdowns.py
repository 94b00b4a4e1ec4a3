"""Breakdowns on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.breakdown import BreakdownInput, Method, Output, Role, YieldsFrom
from service.rest.exact_fields import Choice, Code, ExactDecimal, Flag, Group, Name, Several, Text
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer, record
from service.rest.sentences import Sentence

_NAME_ONE = Sentence("Name exactly one of ingredient and cut.", "name-exactly-one")


class _InputFacts(ma.Schema):
    ingredient = Code()
    cut = Code()


class InputRequest(_InputFacts, Request):
    """What is broken down: an ingredient, or a cut of another breakdown."""

    @ma.validates_schema
    def _name_one(self, values: dict[str, Any], **_options: Any) -> None:
        if len(values) != 1:
            raise ma.ValidationError([_NAME_ONE])

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> BreakdownInput:
        return record(BreakdownInput, values)


class InputAnswer(_InputFacts, Answer):
    """What is broken down, naming exactly one of ingredient and cut."""

    OPTIONAL = ("ingredient", "cut")


def _value(says: str) -> ExactDecimal:
    return ExactDecimal(allow_none=True, metadata={"description": says})


class _OutputFacts(ma.Schema):
    cut = Code(required=True)
    name = Name(required=True)
    role = Choice(Role, required=True)
    uses = Several(Name(max=60), max=20, metadata={"description": "The cookery that it suits."})
    expected_yield = ExactDecimal(non_negative=True, max="1", required=True, metadata={
        "description": "Declared yield: a fraction of the input's weight, 0.10 for a tenth."})
    market_value = _value("Per kg, what the kitchen would pay for this cut ready-trimmed and finished.")
    split_off_value = _value("Per kg, as it leaves the knife; market value less finishing unless given.")
    relative_value = _value("The kitchen's own weight for the method relative_value.")
    finishing_cost = ExactDecimal(non_negative=True, metadata={
        "description": "Per kg of this output: work after split-off (mincing, dicing, tying). 0 unless given."})
    credit_value = ExactDecimal(non_negative=True, allow_none=True, metadata={
        "description": "Per kg of a by-product."})
    disposal_cost = ExactDecimal(non_negative=True, metadata={"description": "Per kg of a loss. 0 unless given."})
    portion_weight_kg = ExactDecimal(positive=True, allow_none=True, metadata={
        "description": "A raw portion; also what `each` of this cut weighs."})


class OutputRequest(_OutputFacts, Request):
    """One output of a breakdown."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Output:
        return record(Output, values)


class OutputAnswer(_OutputFacts, Answer):
    """One output of a breakdown."""


class _BreakdownFacts(ma.Schema):
    name = Name(required=True)
    in_use = Flag(metadata={"description": "Whether it makes its cuts; it takes over from others in use that make "
                                           "them. true unless given."})
    method = Choice(Method, metadata={"description": "How the joint cost is shared. market_value unless given."})
    yields_from = Choice(YieldsFrom, metadata={"description": "tests (that count; else declared) unless given."})
    labour_minutes_per_kg = ExactDecimal(non_negative=True, metadata={"description": "Of input. 0 unless given."})
    packaging_per_kg = ExactDecimal(non_negative=True, metadata={"description": "Money, of input. 0 unless given."})
    steps = Several(Text(max=500), max=60, metadata={"description": "The order of work, in the kitchen's words."})


class BreakdownRequest(_BreakdownFacts, DatedRequest):
    """A breakdown to be kept."""

    input = Group(InputRequest, required=True)
    outputs = Several(Group(OutputRequest), max=1000, min=1, required=True)


class BreakdownAnswer(_BreakdownFacts, RecordAnswer):
    """A breakdown."""

    input = Group(InputAnswer)
    outputs = Several(Group(OutputAnswer))


class BreakdownPage(PageAnswer):
    """A page of breakdowns."""

    data = Several(Group(BreakdownAnswer))
