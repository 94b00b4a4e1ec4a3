"""Workings on the wire: how a figure came about, step by step."""

from typing import ClassVar

import marshmallow as ma

from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import GapAnswer
from service.rest.schemas.figures import figure


class PartAnswer(Answer):
    """A number that goes into a step."""

    name = Text(metadata=says("What it is."))
    how = Text(metadata=says("How it goes in: add, subtract, multiply, divide, and the like."))
    value = figure("To 10 decimals; null: not known.")
    carried = figure("To as many decimals as the step needs to add up again within 1e-10.")
    unit = Text(metadata=says("Its unit; empty: a bare number."))
    from_step = Whole(allow_none=True, metadata=says("The step that it comes from; null: from the record itself."))


class OutcomeAnswer(Answer):
    """The number that a step gives."""

    value = figure("To 10 decimals, or a published figure to its own; null: not known.")
    carried = figure("To as many decimals as later steps need.")
    unit = Text(metadata=says("Its unit; empty: a bare number."))


class UsedRecordAnswer(Answer):
    """The record, and its version, that a step rests on. Prices and tests say more of themselves."""

    OPTIONAL: ClassVar[tuple[str, ...]] = (
        "price", "supplier", "supplier_name", "amount", "pack_quantity", "pack_unit", "effective_to", "reference",
        "tests")

    kind = Text(metadata=says("Of what kind it is."))
    code = Text(metadata=says("Its code."))
    name = Text(metadata=says("Its name."))
    revision = Whole(metadata=says("The revision that recorded the version in force."))
    effective_from = Day(allow_none=True, metadata=says("Since when it holds; null: from the beginning."))
    price = Text(metadata=says("The price's id."))
    supplier = Text(metadata=says("Whose price it is."))
    supplier_name = Text(metadata=says("The supplier's name."))
    amount = figure("Money for the pack.")
    pack_quantity = figure("What the pack holds.")
    pack_unit = Text(metadata=says("In which unit."))
    effective_to = Day(allow_none=True, metadata=says("The price's last day; null: open."))
    reference = Text(metadata=says("The supplier's list or invoice."))
    tests = Several(ma.fields.Dict(), metadata=says("The yield tests that count."))


class StepAnswer(Answer):
    """One step: numbers in, what is done with them, the number that comes out."""

    step = Whole(metadata=says("Its number; a step comes after those that it rests on."))
    what = Text(metadata=says("What it works out."))
    record = Group(UsedRecordAnswer, metadata=says("The record that it rests on."))
    formula = Text(metadata=says("In words."))
    operation = Text(metadata=says("For programs: sum, product, round, and the like."))
    parts = Several(Group(PartAnswer), data_key="in", metadata=says("The numbers in, in order."))
    out = Group(OutcomeAnswer, metadata=says("The number that comes out."))
    gaps = Several(Group(GapAnswer), metadata=says("What is missing here."))
    note = Text(metadata=says("Why this and not another: which supplier decides, and the like."))


class WorkedFigureAnswer(Answer):
    """One published figure and its steps; what an earlier figure's steps gave is not told again."""

    figure = Text(metadata=says("Its name in the cost answer."))
    published = Text(allow_none=True, metadata=says("As the cost answer has it."))
    steps = Several(Group(StepAnswer), metadata=says("The last one is the published figure."))


class WorkingAnswer(Answer):
    """How the costs of a dish, cut or recipe came about, down to the supplier's price."""

    kind = Text(metadata=says("dish, cut or recipe."))
    code = Code(metadata=says("Whose working it is."))
    name = Text(metadata=says("Its name."))
    as_of = Day(metadata=says("The day that the figures are of."))
    revision = Whole(metadata=says("As known at this revision."))
    currency = Text(metadata=says("ISO 4217."))
    decimals_carried = Whole(metadata=says("Decimals of every `carried`."))
    figures = Several(Group(WorkedFigureAnswer), metadata=says("Each published figure."))
