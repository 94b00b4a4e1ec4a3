"""The comparison of a breakdown on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.bounds import LINES
from service.domain.break_or_buy import Cheaper
from service.domain.breakdown import Method
from service.rest.comma_lists import CommaList
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.breakdowns import InputAnswer
from service.rest.schemas.costs import FindingAnswer, GapAnswer
from service.rest.schemas.figures import figure
from service.rest.schemas.records import PositionQuery, record
from service.rest.sentences import Sentence
from service.use_cases.read_breakdown_comparison import CutUsed

MOST_AGAINST = 100
MOST_PIECES = 1_000_000
_NAME_ONE = Sentence("Give exactly one of input_kg and pieces.", "name-exactly-one")
_AGAINST = "Breakdowns of the same input to hold it against; all that stand, in use or not, unless given."


class ComparisonQuery(PositionQuery):
    """As of which day, as known at which revision, against which other breakdowns."""

    against = CommaList(Code(), most=MOST_AGAINST, metadata=says(_AGAINST))


class CutUsedRequest(Request):
    """How much of a cut is used."""

    cut = Code(required=True, metadata=says("A main, trim or by-product of the breakdown."))
    quantity_kg = ExactDecimal(non_negative=True, required=True, metadata=says("At most what comes off."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> CutUsed:
        return record(CutUsed, values)


class ComparisonRequest(Request):
    """So much input, and what of its cuts is really used."""

    as_of = Day(metadata=says("The day the answer is of: the business day today unless given."))
    known_at = Whole(metadata=says("As known at this revision: the head unless given."))
    against = Several(Code(), max=MOST_AGAINST, min=1, metadata=says(_AGAINST))
    input_kg = ExactDecimal(positive=True, metadata=says("How much of the input is broken down, in kg."))
    pieces = Whole(min=1, max=MOST_PIECES, metadata=says(
        "Or how many pieces of what is bought: by what the yield tests weighed, or the ingredient's own conversion."))
    used = Several(Group(CutUsedRequest), max=LINES, min=1, required=True, metadata=says(
        "What is really used. Main and trim that are not named are not used; by-products that are not named are used "
        "or sold at their credit values."))

    @ma.validates_schema
    def _name_one(self, values: dict[str, Any], **_options: Any) -> None:
        if ("input_kg" in values) == ("pieces" in values):
            raise ma.ValidationError([_NAME_ONE])


class InputCostAnswer(Answer):
    """What a kg of the input costs."""

    basis = OneOf(("price", "cost_of_cut"), metadata=says(
        "price: it is bought. cost_of_cut: it is a cut, and costs what the chain to it costs."))
    material_cost_per_kg = figure("Money per kg.")
    labour_cost_per_kg = figure("Money per kg; nil for what is bought.")
    cost_per_kg = figure("Both together.")
    gaps = Several(Group(GapAnswer), metadata=says("What is missing; empty when all is known."))


class PoolsAnswer(Answer):
    """What the methods share, after credits, disposal and packaging."""

    material_per_kg_of_input = figure("Money per kg of input.")
    labour_per_kg_of_input = figure("Money per kg of input; finishing is not in it.")


class CutUnderMethodAnswer(Answer):
    """What a kg of a main or trim output costs by one method."""

    cut = Code(metadata=says("Its code."))
    name = Name(metadata=says("What the kitchen calls it."))
    role = Text(metadata=says("main or trim."))
    yield_fraction = Figure(data_key="yield", metadata=says("Output weight over input weight."))
    share_of_joint_cost = figure("Of both pools together.")
    material_cost_per_kg = figure("Money per kg.")
    labour_cost_per_kg = figure("Money per kg, finishing included.")
    cost_per_kg = figure("Material and labour.")
    market_value = figure("Money per kg, as recorded.")
    dearer_than_buying = Flag(allow_none=True, metadata=says(
        "Whether the published cost is above the published market value; null: one of them is not known."))


class UnderMethodAnswer(Answer):
    """The whole breakdown by one method."""

    method = OneOf(tuple(Method), metadata=says("How the joint cost is shared."))
    in_force = Flag(metadata=says("Whether the breakdown is recorded with it."))
    cost_per_kg_of_input = figure(
        "Costs per kg times yields, over all cuts: the same by every method, since cost is conserved.")
    cuts = Several(Group(CutUnderMethodAnswer), metadata=says("In the breakdown's order."))
    gaps = Several(Group(GapAnswer), metadata=says("What this method lacks; the others stand."))
    findings = Several(Group(FindingAnswer), metadata=says("What a person should look at under this method."))


class ValuePartsAnswer(Answer):
    """What comes of it and what it takes, in money."""

    cuts = figure("Market value of main and trim that are used, ready-trimmed and finished.")
    credits = figure("By-products at their credit values.")
    packaging = figure("As recorded, per kg of input.")
    disposal = figure("Of losses.")
    finishing = figure("Of what is used.")
    labour = figure("Minutes at the labour rate; null without a rate.")
    value_before_labour = figure("cuts + credits - packaging - disposal - finishing.")
    value_after_labour = figure("The same less labour.")


class OutputValueAnswer(Answer):
    """One output and its value."""

    cut = Code(metadata=says("Its code."))
    name = Name(metadata=says("What the kitchen calls it."))
    role = Text(metadata=says("main, trim, by_product or loss."))
    value_per_kg = figure("Market value; of a by-product its credit; of a loss its disposal, below zero.")
    value = figure("Money, of what is used.")


class SideOutputAnswer(OutputValueAnswer):
    """One output, per kg of input."""

    kg_per_kg_of_input = Figure(metadata=says("Its yield."))


class SideAnswer(ValuePartsAnswer):
    """One breakdown of the input, per kg of it, when all that comes off is used."""

    breakdown = Code(metadata=says("Its code."))
    name = Name(metadata=says("What the kitchen calls it."))
    in_use = Flag(metadata=says("Whether it makes its cuts; one that does not is compared as if it did."))
    yield_basis = OneOf(("declared", "tests"), metadata=says("Where its yields are from."))
    margin_before_labour = figure("Value before labour less what the input costs in material.")
    margin_after_labour = figure("Value after labour less what the input costs.")
    after_labour_against_the_first = figure("Its value after labour less that of the breakdown that is compared.")
    gives_also = Several(Text(), metadata=says("Cuts that the compared breakdown does not give."))
    does_not_give = Several(Text(), metadata=says("Cuts that the compared breakdown gives, and this one does not."))
    outputs = Several(Group(SideOutputAnswer), metadata=says("In its own order."))
    gaps = Several(Group(GapAnswer), metadata=says("What is missing; empty when all is known."))


class VerdictAnswer(Answer):
    """Breaking against buying."""

    breaking = figure("Money: what the input costs + packaging + disposal + finishing - credits, + labour.")
    saved = figure("Money: buying less breaking; below zero, buying is cheaper.")
    cheaper = OneOf(tuple(Cheaper), allow_none=True, metadata=says("Which comes cheaper, by the published figure."))
    stops_paying_at = figure(
        "Money per kg of input: the price at which nothing is saved. Below zero: it would not pay as a gift.")


class UsedOutputAnswer(OutputValueAnswer):
    """One output, of the input that is broken down."""

    comes_off_kg = Figure(metadata=says("What the input gives of it."))
    used_kg = Figure(metadata=says("What of that is used; all of a loss, which is disposed of."))
    not_used_kg = Figure(metadata=says("The rest, which counts nothing."))
    lost = figure("Money: what the rest would add if it were used, less its finishing.")


class BreakOrBuyAnswer(ValuePartsAnswer):
    """The whole input against buying, ready-trimmed, what is used of it. Money in all."""

    input_kg = Figure(metadata=says("How much is broken down, in kg."))
    basis = OneOf(("price", "cost_of_cut"), metadata=says("Against the price, or against what the chain costs."))
    buying = figure("Money: what is used of main and trim, at its market values.")
    input_material_cost = figure("Money: the input at its price, or at the chain's material.")
    input_labour_cost = figure("Money: the chain's labour; nil for what is bought.")
    with_labour = Group(VerdictAnswer, metadata=says("Minutes are paid for."))
    without_labour = Group(VerdictAnswer, metadata=says(
        "Minutes at the block are paid anyway. Finishing is a charge either way: market values are finished ones."))
    lost_to_what_is_not_used = figure("Money: what using all that comes off would add.")
    not_used_kg = Figure(metadata=says("Kilograms of main, trim and by-products."))
    outputs = Several(Group(UsedOutputAnswer), metadata=says("In the breakdown's order."))
    gaps = Several(Group(GapAnswer), metadata=says("What is missing; empty when all is known."))


class FinishingAnswer(Answer):
    """Whether to finish an output further. What the input cost is sunk, and is not in it."""

    cut = Code(metadata=says("Its code."))
    name = Name(metadata=says("What the kitchen calls it."))
    quantity_kg = Figure(metadata=says("What is used of it."))
    market_value = figure("Money per kg, finished.")
    finishing_cost = Figure(metadata=says("Money per kg."))
    split_off_value = figure("Money per kg, as it leaves the knife.")
    gain_per_kg = figure("market_value - finishing_cost - split_off_value.")
    gain = figure("Money, of what is used.")
    worth_finishing = Flag(allow_none=True, metadata=says("Whether the published gain is above zero; null: not known."))
    gaps = Several(Group(GapAnswer), metadata=says("The values that are missing."))


class BreakdownComparisonAnswer(Answer):
    """A breakdown by all methods, against other breakdowns, and against buying its cuts."""

    as_of = Day(metadata=says("The day that the figures are of."))
    revision = Whole(metadata=says("As known at this revision."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    breakdown = Code(metadata=says("What is compared."))
    name = Name(metadata=says("Its name."))
    in_use = Flag(metadata=says("Whether it makes its cuts; one that does not is costed as if it did."))
    input = Group(InputAnswer, metadata=says("What is broken down."))
    method = OneOf(tuple(Method), metadata=says("The method that it is recorded with."))
    yield_basis = OneOf(("declared", "tests"), metadata=says("Where its yields are from."))
    input_cost = Group(InputCostAnswer, metadata=says("What a kg of the input costs."))
    pools = Group(PoolsAnswer, metadata=says("What the methods share."))
    methods = Several(Group(UnderMethodAnswer), metadata=says("The five methods side by side."))
    breakdowns = Several(Group(SideAnswer), metadata=says(
        "Breakdowns of the same input side by side, per kg of it; the compared one first."))
    break_or_buy = Group(BreakOrBuyAnswer, metadata=says("The whole input against buying what is used of it."))
    finishing = Several(Group(FinishingAnswer), metadata=says("Outputs that are finished further: whether it pays."))
