"""What lost lean costs, on the wire."""

from decimal import Decimal

from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import GapAnswer
from service.rest.schemas.figures import figure
from service.rest.schemas.records import PositionQuery


class LeanLossQuery(PositionQuery):
    """At which volume, and how much of it is lost."""

    input_kg_per_year = ExactDecimal(positive=True, required=True, metadata=says(
        "How many kg of the breakdown's input are broken down in a year."))
    points = ExactDecimal(positive=True, max="100", load_default=Decimal(1), metadata=says(
        "How many percentage points of the input go from lean into loss. 1 unless given."))


class _LostLean(Answer):
    yield_fraction = figure("What a kg of input gives of it.", data_key="yield")
    yield_after = figure("The same with the points lost; null: it does not give so much.")
    market_value = figure("Money per kg of what is lost, ready-trimmed and finished.")
    value_per_kg = figure("What a kg of it was worth as it lay there: its market value less its finishing.")
    disposal_cost_per_kg = Figure(metadata=says("What it costs to be rid of a kg of loss, losses as they are."))
    value_per_kg_of_input = figure("The points, at what they were worth and what disposal costs.")
    value_per_year = figure("The same of a year's input.")
    cost_per_kg = figure("What a kg of it costs now, material and labour.")
    cost_per_kg_after = figure("What a kg of what is left of it then costs.")
    rise_per_kg = figure("By how much that is more.")
    cost_per_kg_of_input = figure("What all cuts that are left cost more, per kg of input.")
    cost_per_year = figure("The same of a year's input.")
    gaps = Several(Group(GapAnswer), metadata=says(
        "What is missing: market values, what the costs lack, less_than_lost where there is less than the points."))


class AllLeanAnswer(_LostLean):
    """All that carries the cost (main and trim), losing in proportion to its yields; costs per kg are averages."""


class LostOutputAnswer(_LostLean):
    """One output losing the points alone."""

    cut = Code(metadata=says("Its code."))
    name = Text(metadata=says("What the kitchen calls it."))
    role = OneOf(("main", "trim"), metadata=says("What it is."))


class LeanSeenAnswer(Answer):
    """What the tests that count show, from their earlier half to the later one."""

    text = Text(metadata=says("In words: between which tests, and from what to what."))
    points = Figure(metadata=says("By how many points of the input trim fell, as far as loss rose by as much."))
    lost_kg_per_year = Figure(metadata=says("Of a year's input."))
    value_per_kg_of_input = figure("At what trim is worth, disposal included.")
    value_per_year = figure("The same of a year's input.")
    gaps = Several(Group(GapAnswer), metadata=says("Market values that are missing."))


class LeanLossAnswer(Answer):
    """What lean in the bin costs: over-trimming made visible."""

    breakdown = Code(metadata=says("Whose it is."))
    name = Text(metadata=says("Its name."))
    as_of = Day(metadata=says("The day that the figures are of."))
    revision = Whole(metadata=says("As known at this revision."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    in_use = Flag(metadata=says("false: it is costed as if it were in use."))
    method = Text(metadata=says("How the joint cost is shared."))
    yield_basis = OneOf(("declared", "tests"), metadata=says("Where the yields are from."))
    tests = Whole(metadata=says("Tests that count."))
    points = Figure(metadata=says("As asked for."))
    input_kg_per_year = Figure(metadata=says("As asked for."))
    lost_kg_per_year = Figure(metadata=says("The points of it."))
    in_words = Text(metadata=says("The same in a sentence, for all lean."))
    all_lean = Group(AllLeanAnswer, metadata=says("All lean together."))
    outputs = Several(Group(LostOutputAnswer), metadata=says("Each alone, in the breakdown's order."))
    lean_into_the_bin = Group(LeanSeenAnswer, allow_none=True, metadata=says(
        "Loss up while trim is down, by more than the tests' own scatter, and what it comes to; null: not seen."))
