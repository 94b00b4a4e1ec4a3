"""The balance of a menu on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.breakdown import Role
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.breakdowns import InputAnswer
from service.rest.schemas.costs import FindingAnswer, GapAnswer
from service.rest.schemas.covers import AT_LEAST_ONE, CoversRequested
from service.rest.schemas.figures import figure

_STATUS = ("complete", "incomplete")


class BalanceRequest(CoversRequested):
    """The covers to balance, as of which day and as known at which revision."""

    as_of = Day(metadata=says("On this day's menu, yields and prices: the business day today unless given."))
    known_at = Whole(metadata=says("As known at this revision, sales too: the head unless given."))
    whole_pieces = Flag(load_default=True, metadata=says(
        "Whether primals are bought by the whole piece, where it is known what one weighs. true unless given."))

    @ma.validates_schema(skip_on_field_errors=True)
    def _at_least_one(self, values: dict[str, Any], **_options: Any) -> None:
        if "covers" not in values and "covers_from_sales" not in values:
            raise ma.ValidationError([AT_LEAST_ONE])


class BalanceTotalAnswer(Answer):
    """All covers together: outlay = food_cost + left_over_value + by_products_left_value, before rounding."""

    covers = Figure(metadata=says("Portions."))
    takings = figure("At menu prices, before tax; null while a dish has none.")
    food_cost = figure("Of all covers, as the dishes' figures say it.")
    allowance = figure("The part of it that is allowed for what is not measured.")
    ingredients_cost = figure("Of what is bought as such.")
    primals_cost = figure("Of what is bought to be broken down, whole.")
    packaging_and_disposal = figure("Of all breakdowns.")
    short_value = figure("By-products that are needed and do not come off, at their credit.")
    outlay = figure("The five above together: what is really paid for these covers, before anything left is sold.")
    used_value = figure("Material cost of the cuts that dishes and recipes use.")
    left_over_value = figure("Material cost of the main cuts and trim that nothing uses.")
    left_over_market_value = figure("What the kitchen would pay for them ready-trimmed.")
    left_over_percent = figure("left_over_value, of itself and used_value together.")
    main_left_value = figure("The main cuts' part of left_over_value.")
    trim_left_value = figure("The trim's part of it.")
    by_products_left_value = figure("By-products that nothing uses, at the credit that the cuts were relieved of.")
    food_cost_percent = figure("Of takings, as the dishes' figures say it.")
    outlay_percent = figure("outlay, of takings: the same if nothing that is left over were ever sold.")


class DishCoveredAnswer(Answer):
    """One dish of the covers."""

    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("As the menu has it."))
    quantity = Figure(metadata=says("Portions."))
    food_cost = figure("Of a portion: material alone.")
    food_cost_percent = figure("Of the price before tax.")
    within_target = Flag(allow_none=True, metadata=says("Whether the percentage is at most its target."))
    total_food_cost = figure("Of all its covers.")
    takings = figure("Of all its covers, before tax.")


class OutputBalanceAnswer(Answer):
    """One output of a breakdown: what is needed of it, and what comes off. Kg of the output, unless it says input."""

    cut = Code(metadata=says("The output's code."))
    name = Text(metadata=says("What the kitchen calls it."))
    role = OneOf(tuple(Role), metadata=says("What it is."))
    binds = Flag(metadata=says(
        "Whether it asks for most input, so that nothing of it is left before whole pieces. A by-product never does."))
    yield_fraction = Figure(data_key="yield", metadata=says("Of the input's weight."))
    needed_kg = figure("As purchased, by dishes, recipes and further breakdowns; null: not known.")
    known_needed_kg = Figure(metadata=says("At least so much."))
    broken_down_kg = Figure(metadata=says("The part of it that a further breakdown takes."))
    input_needed_kg = figure("Kg of input that would give it; null where nothing needs it.")
    comes_off_kg = figure("Of all the input.")
    used_kg = figure("What is needed of it and comes off.")
    left_kg = figure("What nothing uses.")
    short_kg = figure("What is needed of a by-product beyond what comes off: to be bought by itself.")
    left_percent = figure("Of what comes off.")
    left_portions = Whole(allow_none=True, metadata=says("Whole raw portions of what is left."))
    material_cost_per_kg = figure("Material; of a by-product its credit.")
    cost_per_kg = figure("Material and labour.")
    used_value = figure("Material cost of what is used.")
    left_value = figure("Material cost of what is left.")
    left_cost = figure("Material and labour of what is left.")
    left_market_value = figure("What is left at its market value; of a by-product at its credit.")


class BreakdownBalanceAnswer(Answer):
    """One breakdown: used_kg + left_kg + loss_kg + unaccounted_kg = input_kg, before rounding."""

    breakdown = Code(metadata=says("Its code."))
    name = Text(metadata=says("What the kitchen calls it."))
    input = Group(InputAnswer, metadata=says("What is broken down: an ingredient or a cut."))
    status = OneOf(_STATUS, metadata=says("incomplete: what is needed of a cut is not known."))
    yield_basis = OneOf(("declared", "tests"), metadata=says("Where the yields are from."))
    binding = Several(Code(), metadata=says("The cuts that ask for most input."))
    needed_input_kg = figure("What they ask for, before whole pieces.")
    known_needed_input_kg = Figure(metadata=says("At least so much."))
    pieces = Whole(allow_none=True, metadata=says("Whole pieces to buy; null: by weight, or of a cut."))
    piece_weight_kg = figure("What one weighs; null: not known.")
    piece_weight_basis = OneOf(("yield_tests", "conversion"), allow_none=True, metadata=says("How that is known."))
    input_kg = figure("What is bought, or broken down further: whole pieces where there are some.")
    used_kg = figure("What dishes, recipes and further breakdowns use.")
    left_kg = figure("What nothing uses.")
    loss_kg = figure("Outputs of role loss.")
    unaccounted_kg = figure("Purge, drip, the scale.")
    input_cost = figure("Material cost of all the input.")
    packaging_and_disposal = figure("Of all the input.")
    used_value = figure("Material cost of what is used.")
    left_over_value = figure("Material cost of the main cuts and trim that nothing uses.")
    left_over_market_value = figure("What the kitchen would pay for them ready-trimmed.")
    by_products_left_value = figure("By-products that nothing uses, at their credit.")
    outputs = Several(Group(OutputBalanceAnswer), metadata=says("In the plan's order."))


class BoughtAsSuchAnswer(Answer):
    """One ingredient that recipes and dishes use as it is bought."""

    ingredient = Code(metadata=says("Its code."))
    name = Text(metadata=says("What the kitchen calls it."))
    unit = Text(metadata=says("kg, l or each."))
    quantity = figure("As purchased; null: not known.")
    known_quantity = Figure(metadata=says("At least so much."))
    unit_price = figure("Money per `unit`.")
    cost = figure("Money.")


class DishNotOnMenuAnswer(Answer):
    """A dish that was sold and is not on the menu of the day asked for."""

    dish = Code(metadata=says("The dish's code."))
    quantity = Figure(metadata=says("Portions sold."))


class CoversWithoutDishAnswer(Answer):
    """What was served under a POS code that does not tell the dish."""

    pos_code = Text(metadata=says("The POS's code."))
    quantity = Figure(metadata=says("Portions."))


class BalanceAnswer(Answer):
    """What so many covers need, buy and leave over."""

    as_of = Day(metadata=says("The day whose menu, yields and prices these are."))
    revision = Whole(metadata=says("Under this `known_at` the same is answered again, to the digit."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    status = OneOf(_STATUS, metadata=says("incomplete: something is missing, and `gaps` says what."))
    gaps = Several(Group(GapAnswer), metadata=says("What is not known; empty when complete."))
    findings = Several(Group(FindingAnswer), metadata=says(
        "mostly_left_over: more than half of a main cut stays. by_product_short: recipes need more of one than comes "
        "off. bought_for_trim: trim asks for more input than any main cut. More may come."))
    covers_from = OneOf(("covers", "sales"), metadata=says("Whether the covers were given or sold."))
    sales_days = Whole(metadata=says("How many business dates had sales; 0 for covers that were given."))
    not_on_menu = Several(Group(DishNotOnMenuAnswer), metadata=says("Sold, and in no figure here."))
    without_dish = Several(Group(CoversWithoutDishAnswer), metadata=says(
        "Sold, and in no figure here; a code that several dishes bear, or whose dish was not on the menu that day, is "
        "one of `gaps` too."))
    total = Group(BalanceTotalAnswer, metadata=says("All covers together."))
    dishes = Several(Group(DishCoveredAnswer), metadata=says("By code."))
    breakdowns = Several(Group(BreakdownBalanceAnswer), metadata=says("By code."))
    ingredients = Several(Group(BoughtAsSuchAnswer), metadata=says("What is bought as such, by code."))
