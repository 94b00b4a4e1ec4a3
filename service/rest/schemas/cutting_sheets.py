"""Cutting sheets on the wire."""

from service.rest.fields.choices import Flag
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.breakdowns import InputAnswer
from service.rest.schemas.figures import figure


class SheetLineAnswer(Answer):
    """One output: what a piece gives of it, what it costs, what it is good for."""

    cut = Code(metadata=says("Its code."))
    name = Text(metadata=says("What the kitchen calls it."))
    role = Text(metadata=says("main, trim, by_product or loss."))
    uses = Several(Text(), metadata=says("The cookery that it suits."))
    yield_fraction = figure("Of the breakdown's input.", data_key="yield")
    kg_per_piece = figure("What a piece of the primal gives of it, in kg.")
    material_cost_per_kg = figure("Material, money per kg.")
    labour_cost_per_kg = figure("Labour, finishing included, money per kg.")
    cost_per_kg = figure("Material and labour, money per kg.")
    cost_per_piece = figure("Money, of all that a piece gives.")
    market_value = figure("Money per kg, as recorded.")
    credit_value = figure("Money per kg of a by-product, as recorded.")
    disposal_cost = figure("Money per kg of a loss, as recorded.")
    portion_weight_kg = figure("In kg, raw, as recorded.")
    portions_per_piece = Whole(allow_none=True, metadata=says("Whole portions that a piece gives."))
    tail_kg = figure("What is left of a piece after whole portions.")
    cost_per_portion = figure("With the tail used.")
    cost_per_portion_tail_lost = figure("With the tail lost: all of the cut over its whole portions.")
    tests = Whole(metadata=says("Tests that count."))
    standard_error = figure("Of the yield; null below two tests.")
    interval_95 = Several(Figure(), allow_none=True, metadata=says("Of the yield, by Student's t; null as above."))


class CautionAnswer(Answer):
    """A usual caution. Local codes, the kitchen's own HACCP plan and a competent person come first."""

    code = Text(metadata=says("Stable."))
    text = Text(metadata=says("What to mind."))
    source = Text(metadata=says("Where it is from; empty: common practice."))


class CuttingSheetAnswer(Answer):
    """What do I get out of this piece, what does each part cost, what is it good for."""

    as_of = Day(metadata=says("The day that the sheet is of."))
    revision = Whole(metadata=says("As known at this revision."))
    breakdown = Code(metadata=says("Whose sheet it is."))
    name = Text(metadata=says("Its name."))
    in_use = Flag(metadata=says("Whether it makes its cuts; costs are null otherwise."))
    input = Group(InputAnswer, metadata=says("What is broken down."))
    ingredient = Code(allow_none=True, metadata=says("What was bought, at the start of the chain."))
    currency = Text(metadata=says("ISO 4217."))
    method = Text(metadata=says("How the joint cost is shared."))
    piece_weight_kg = figure("A piece of what was bought.")
    piece_weight_basis = Text(allow_none=True, metadata=says("Where that weight is from: yield_tests or conversion."))
    input_kg_per_piece = figure("What of a piece comes to this breakdown.")
    yield_basis = Text(metadata=says("declared or tests."))
    tests = Whole(metadata=says("Tests that count."))
    unaccounted = figure("Purge, drip and the scale: what is left of 1 after all yields.")
    unaccounted_kg_per_piece = figure("The same of a piece.")
    purge = figure("Lost on opening and draining, where the tests weighed it.")
    cutting_loss = figure("Lost after that.")
    outputs = Several(Group(SheetLineAnswer), metadata=says("In the breakdown's order."))
    steps = Several(Text(), metadata=says("The order of work, in the kitchen's words."))
    cautions = Several(Group(CautionAnswer), metadata=says("Shown beside the steps."))
