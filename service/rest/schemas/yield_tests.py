"""Yield tests on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.bounds import LINES
from service.domain.yield_test import WeighedOutput
from service.rest.exact_fields import Code, Day, ExactDecimal, Flag, Group, OneOf, Several, Text, Whole, says
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.prices import EndedAnswer
from service.rest.schemas.records import PageAnswer, record

MASS_UNITS = ("kg", "g", "lb", "oz")


class _WeighedFacts(ma.Schema):
    cut = Code(required=True, metadata=says("The output, by its code in the breakdown."))
    weight = ExactDecimal(non_negative=True, required=True, metadata=says("In the test's `unit`; 0: there was none."))


class WeighedRequest(_WeighedFacts, Request):
    """What one output weighed."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> WeighedOutput:
        return record(WeighedOutput, values)


class WeighedAnswer(_WeighedFacts, Answer):
    """What one output weighed."""


class _YieldTestFacts(ma.Schema):
    tested_on = Day(required=True, metadata=says("The day of the breakdown: the test counts from then on."))
    unit = OneOf(MASS_UNITS, required=True, metadata=says("The unit of every weight in it."))
    input_weight = ExactDecimal(positive=True, required=True, metadata=says("The weight paid for, in `unit`."))
    opened_weight = ExactDecimal(positive=True, allow_none=True, metadata=says(
        "After opening and draining: shows purge apart from cutting loss."))
    minutes = ExactDecimal(non_negative=True, allow_none=True, metadata=says("How long it took; null: not timed."))
    pieces = Whole(min=1, max=100_000, metadata=says("How many pieces were broken down. 1 unless given."))
    butcher = Text(max=120, metadata=says("Who did it: a role, block or shift rather than a person's name."))
    supplier = Code(allow_none=True, metadata=says("Whose goods they were."))
    grade = Text(max=60, metadata=says("The grade of the goods, in the kitchen's words."))
    note = Text(max=1000, lines=True, metadata=says("For people."))


class YieldTestRequest(_YieldTestFacts, Request):
    """A test to be recorded: every output of the breakdown is weighed."""

    outputs = Several(Group(WeighedRequest), max=LINES, min=1, read_up_to=1000, required=True, metadata=says(
        "Every output of the breakdown, each once."))


class YieldTestAnswer(_YieldTestFacts, Answer):
    """A yield test."""

    id = Text(metadata=says("Revision and entry that recorded it."))
    revision = Whole(metadata=says("The revision that recorded it."))
    breakdown = Code(metadata=says("Of which breakdown it is a test."))
    outputs = Several(Group(WeighedAnswer), metadata=says("What every output weighed."))
    set_aside = Group(EndedAnswer, allow_none=True, metadata=says("Null: it was not set aside."))


class ListedYieldTest(YieldTestAnswer):
    """A yield test, and whether it counts on the day asked for."""

    counts = Flag(metadata=says("Not when set aside, later than the day, or of another list of outputs."))


class YieldTestPage(PageAnswer):
    """A page of a breakdown's tests, the one recorded last first."""

    data = Several(Group(ListedYieldTest), metadata=says("The one recorded last first."))
