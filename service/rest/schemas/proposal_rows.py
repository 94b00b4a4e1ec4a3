"""The rows of a price proposal on the wire."""

from typing import ClassVar

from service.domain.row_finding import Standing
from service.rest.fields.choices import Choice, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.figures import figure
from service.rest.schemas.price_proposals import FINDINGS
from service.rest.schemas.records import PageAnswer


class ClosestAnswer(Answer):
    """What an unknown item may have been meant for."""

    kind = OneOf(("item", "ingredient"), metadata=says("An item of the supplier's, or an ingredient."))
    code = Text(metadata=says("Its code."))


class RowFindingAnswer(Answer):
    """Something to look at in a row."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("closest",)

    code = Text(metadata=says(FINDINGS))
    detail = Text(metadata=says("A sentence with the mend."))
    closest = Several(Group(ClosestAnswer), metadata=says("unknown_item: the closest names there are."))


class ProposalRowAnswer(Answer):
    """A row of the file: what it says, what it would record, and what was found."""

    row = Whole(metadata=says("Its number, from 1."))
    place = Text(metadata=says("Where a person finds it in the file."))
    item = Text(metadata=says("The supplier's code, as the file has it."))
    gtin = Text(metadata=says("The GTIN, as the file has it."))
    name = Text(metadata=says("The supplier's name for it."))
    ingredient = Text(allow_none=True, metadata=says("The ingredient that it maps to; null: none."))
    ingredient_name = Text(allow_none=True, metadata=says("Its name here."))
    amount = figure("The price as read; null: it cannot be read.")
    amount_text = Text(metadata=says("The price as the file has it."))
    per = Text(allow_none=True, metadata=says("What the price is for, as the file says; null: it does not say."))
    pack = Text(allow_none=True, metadata=says("The pack, of the file or else of the mapping: 2 x 5 kg."))
    effective_from = Day(allow_none=True, metadata=says("The first day of the price."))
    effective_to = Day(allow_none=True, metadata=says("The last day; null: open."))
    base_unit = Text(allow_none=True, metadata=says("The ingredient's base unit."))
    unit_price = figure("Money per base unit.")
    price_in_force = figure("Per base unit, on the first day: the supplier's, else the one that costs rest on.")
    price_in_force_id = Text(allow_none=True, metadata=says("Which price that is."))
    price_in_force_supplier = Text(allow_none=True, metadata=says("Whose price that is."))
    change = figure("Per base unit: the new less the one in force.")
    change_percent = figure("Of the one in force.")
    menu_effect = figure("Change of food cost per portion by this row alone, summed over all dishes.")
    dishes = Whole(allow_none=True, metadata=says("How many dishes it reaches."))
    standing = Choice(Standing, metadata=says("What may become of it."))
    findings = Several(Group(RowFindingAnswer), metadata=says("What a person should look at."))
    decision = OneOf(("accepted", "left"), allow_none=True, metadata=says("What became of it; null: not decided."))
    price = Text(allow_none=True, metadata=says("The price that it became."))
    override = Text(metadata=says("The reason with which it was taken."))


class ProposalRowPage(PageAnswer):
    """A page of rows."""

    data = Several(Group(ProposalRowAnswer), metadata=says("In the order asked for."))
