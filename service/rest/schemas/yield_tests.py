"""Yield tests on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.yield_test import WeighedOutput
from service.rest.exact_fields import Code, Day, ExactDecimal, Flag, Group, OneOf, Several, Text, Whole
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.prices import EndedAnswer
from service.rest.schemas.records import PageAnswer, record

MASS_UNITS = ("kg", "g", "lb", "oz")


class _WeighedFacts(ma.Schema):
    cut = Code(required=True)
    weight = ExactDecimal(non_negative=True, required=True, metadata={"description": "0: there was none."})


class WeighedRequest(_WeighedFacts, Request):
    """What one output weighed."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> WeighedOutput:
        return record(WeighedOutput, values)


class WeighedAnswer(_WeighedFacts, Answer):
    """What one output weighed."""


class _YieldTestFacts(ma.Schema):
    tested_on = Day(required=True)
    unit = OneOf(MASS_UNITS, required=True)
    input_weight = ExactDecimal(positive=True, required=True, metadata={"description": "The weight paid for."})
    opened_weight = ExactDecimal(positive=True, allow_none=True, metadata={
        "description": "After opening and draining: shows purge apart from cutting loss."})
    minutes = ExactDecimal(non_negative=True, allow_none=True)
    pieces = Whole(min=1, max=100_000)
    butcher = Text(max=120)
    supplier = Code(allow_none=True)
    grade = Text(max=60)
    note = Text(max=1000, lines=True)


class YieldTestRequest(_YieldTestFacts, Request):
    """A test to be recorded: every output of the breakdown is weighed."""

    outputs = Several(Group(WeighedRequest), max=1000, min=1, required=True)


class YieldTestAnswer(_YieldTestFacts, Answer):
    """A yield test."""

    id = Text(metadata={"description": "Revision and entry that recorded it."})
    revision = Whole()
    breakdown = Code()
    outputs = Several(Group(WeighedAnswer))
    set_aside = Group(EndedAnswer, allow_none=True)


class ListedYieldTest(YieldTestAnswer):
    """A yield test, and whether it counts on the day asked for."""

    counts = Flag(metadata={"description": "Not when set aside, later than the day, or of another list of outputs."})


class YieldTestPage(PageAnswer):
    """A page of a breakdown's tests, the one recorded last first."""

    data = Several(Group(ListedYieldTest))
