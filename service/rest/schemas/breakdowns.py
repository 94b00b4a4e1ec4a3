"""Breakdowns on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.bounds import LINES
from service.domain.breakdown import BreakdownInput, Method, Output, Role, YieldsFrom
from service.rest.fields.choices import Choice, Flag
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.records import DatedRequest, PageAnswer, RecordAnswer, record
from service.rest.sentences import Sentence

MOST_TESTS = 10_000
_NAME_ONE = Sentence("Name exactly one of ingredient and cut.", "name-exactly-one")


class _InputFacts(ma.Schema):
    ingredient = Code(metadata=says("The ingredient that is broken down."))
    cut = Code(metadata=says("The cut, made by another breakdown, that is broken down further."))


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


def _value(text: str) -> ExactDecimal:
    return ExactDecimal(allow_none=True, metadata=says(text))


class _OutputFacts(ma.Schema):
    cut = Code(required=True, metadata=says(
        "The output's code, by which recipes and dishes use it; one breakdown in use at a time makes it."))
    name = Name(required=True, metadata=says("What the kitchen calls it."))
    role = Choice(Role, required=True, metadata=says(
        "main (a muscle, a fillet) and trim (usable lesser pieces) carry the joint cost; a by_product is used or "
        "sold at its credit value; a loss has no value, may cost money to dispose of, and cannot be used."))
    uses = Several(Name(max=60), max=20, metadata=says("The cookery that it suits."))
    expected_yield = ExactDecimal(non_negative=True, max="1", required=True, metadata=says(
        "Declared yield: a fraction of the input's weight, 0.10 for a tenth."))
    market_value = _value("Money per kg: what the kitchen would pay for this cut ready-trimmed and finished.")
    split_off_value = _value("Money per kg, as it leaves the knife; market value less finishing unless given.")
    relative_value = _value("The kitchen's own weight for the method relative_value.")
    finishing_cost = ExactDecimal(non_negative=True, metadata=says(
        "Money per kg of this output: work after split-off (mincing, dicing, tying). 0 unless given."))
    credit_value = ExactDecimal(non_negative=True, allow_none=True, metadata=says(
        "Money per kg of a by-product: what it is worth to a recipe that uses it, or sells for."))
    disposal_cost = ExactDecimal(non_negative=True, metadata=says("Money per kg of a loss. 0 unless given."))
    portion_weight_kg = ExactDecimal(positive=True, allow_none=True, metadata=says(
        "A raw portion in kg; also what `each` of this cut weighs."))


class OutputRequest(_OutputFacts, Request):
    """One output of a breakdown."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Output:
        return record(Output, values)


class OutputAnswer(_OutputFacts, Answer):
    """One output of a breakdown."""


class _BreakdownFacts(ma.Schema):
    name = Name(required=True, metadata=says("What the kitchen calls it."))
    in_use = Flag(metadata=says(
        "Whether it makes its cuts; it takes over from others in use that make them. true unless given."))
    method = Choice(Method, metadata=says(
        "How the joint cost is shared among main and trim: by weight, by sales value at split-off (market_value), "
        "by net realisable value, so that each has the same margin, or by the kitchen's own relative values. "
        "market_value unless given."))
    yields_from = Choice(YieldsFrom, metadata=says(
        "tests (those that count; the declared yields while none does) unless given."))
    yields_from_last_tests = Whole(min=1, max=MOST_TESTS, allow_none=True, metadata=says(
        "Of the tests, only so many count: the last by the day of the test, then by what was recorded later. null or "
        "left out: all. Not together with yields_from_tests_since."))
    yields_from_tests_since = Day(allow_none=True, metadata=says(
        "Of the tests, only those made on this day or later count. null or left out: all. Not together with "
        "yields_from_last_tests."))
    labour_minutes_per_kg = ExactDecimal(non_negative=True, metadata=says(
        "Minutes of work per kg of input, at the labour rate. 0 unless given."))
    packaging_per_kg = ExactDecimal(non_negative=True, metadata=says("Money per kg of input. 0 unless given."))
    steps = Several(Text(max=500), max=60, metadata=says("The order of work, in the kitchen's words."))


class BreakdownRequest(_BreakdownFacts, DatedRequest):
    """A breakdown to be kept."""

    input = Group(InputRequest, required=True, metadata=says("What is broken down."))
    outputs = Several(Group(OutputRequest), max=LINES, min=1, read_up_to=1000, required=True, metadata=says(
        "Everything that comes of it, loss too. What the yields leave of 1 is unaccounted (purge, drip)."))


class BreakdownAnswer(_BreakdownFacts, RecordAnswer):
    """A breakdown."""

    input = Group(InputAnswer, metadata=says("What is broken down."))
    outputs = Several(Group(OutputAnswer), metadata=says("Everything that comes of it, loss too."))


class BreakdownPage(PageAnswer):
    """A page of breakdowns."""

    data = Several(Group(BreakdownAnswer), metadata=says("By code."))
