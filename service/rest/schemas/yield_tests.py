"""Yield tests on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.bounds import LINES
from service.domain.yield_test import WeighedOutput
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.figures import figure
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
    unaccounted_confirmed = Flag(metadata=says(
        "That so much was lost as the weights say. Needed where more of the input is in no output, and did not drain "
        "off, than twice the usual and five percentage points (and than the chart's upper limit, from eight tests on); "
        "the usual is what the yields in force leave of 1, or the declared ones if that is more; of the latter a tenth "
        "at most where tests count or nothing is declared. false unless given."))


class YieldTestAnswer(_YieldTestFacts, Answer):
    """A yield test."""

    id = Text(metadata=says("Revision and entry that recorded it."))
    revision = Whole(metadata=says("The revision that recorded it."))
    breakdown = Code(metadata=says("Of which breakdown it is a test."))
    outputs = Several(Group(WeighedAnswer), metadata=says("What every output weighed."))
    set_aside = Group(EndedAnswer, allow_none=True, metadata=says("Null: it was not set aside."))


class ListedYieldTest(YieldTestAnswer):
    """A yield test, and whether it counts on the day asked for."""

    counts = Flag(metadata=says(
        "Not when set aside, later than the day, of another list of outputs, or not one that the breakdown chooses."))


class YieldTestPage(PageAnswer):
    """A page of a breakdown's tests, the one recorded last first."""

    data = Several(Group(ListedYieldTest), metadata=says("The one recorded last first."))


class CheckedWeightAnswer(Answer):
    """A weight beside what is expected of it."""

    weight = figure("In the test's `unit`.")
    percent = figure("Of the weight paid for.")
    yield_fraction = figure("The test's own.", data_key="yield")
    in_line = Flag(metadata=says("Whether it lies within what is expected."))
    basis = Text(metadata=says(
        "limits: within those of the control chart, from eight tests on. tests or declared: around the yield in force, "
        "a tenth of it and one percentage point up or down; of what is unaccounted for, up to twice the usual and two "
        "percentage points."))
    usual_yield = figure(
        "The yield in force; of what is unaccounted for, the usual as unaccounted_confirmed has it.")
    expected_yield = Several(Figure(), metadata=says("From and to."))
    expected_weight = Several(Figure(), metadata=says("From and to, in the test's `unit`."))


class CheckedOutputAnswer(CheckedWeightAnswer):
    """An output's weight beside what is expected of it."""

    cut = Code(metadata=says("Its code."))
    name = Text(metadata=says("What the kitchen calls it."))
    role = Text(metadata=says("main, trim, by_product or loss."))


class DrainedAnswer(Answer):
    """What drained off before the knife."""

    weight = figure("In the test's `unit`.")
    percent = figure("Of the weight paid for.")


class CheckWarningAnswer(Answer):
    """What to look at before the test is recorded."""

    code = Text(metadata=says(
        "out_of_line, unaccounted: a weight outside what is expected. lean_into_the_bin: of what lay on the block, in "
        "sum, more loss (what is unaccounted for too) and less trim than expected. confirmation_needed: recording "
        "will want unaccounted_confirmed. More may come."))
    cut = Code(allow_none=True, metadata=says("Of which output; null: of none."))
    pointer = Text(metadata=says("The place in the body."))
    text = Text(metadata=says("The sentence."))


class YieldTestCheckAnswer(Answer):
    """A yield test that was not recorded, each weight beside what is expected of it."""

    breakdown = Code(metadata=says("Of which breakdown it would be a test."))
    as_of = Day(metadata=says("The day it was checked: the business day today."))
    revision = Whole(metadata=says("Against what was known at this revision."))
    tested_on = Day(metadata=says("As sent."))
    unit = Text(metadata=says("As sent."))
    input_weight = figure("As sent.")
    in_line = Flag(metadata=says("Whether there is nothing to warn of."))
    confirmation_needed = Flag(metadata=says("Whether recording it needs unaccounted_confirmed."))
    confirm_above_percent = figure("From which part of the input on, in no output and not drained, it does.")
    outputs = Several(Group(CheckedOutputAnswer), metadata=says("In the breakdown's order."))
    unaccounted = Group(CheckedWeightAnswer, metadata=says("What is in no output; below 0 where they outweigh it."))
    drained = Group(DrainedAnswer, allow_none=True, metadata=says("Null: not weighed again after opening."))
    warnings = Several(Group(CheckWarningAnswer), metadata=says("What to look at, in words."))
