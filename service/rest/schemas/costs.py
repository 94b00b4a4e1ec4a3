"""Cost answers on the wire: dishes, cuts and recipes."""

from typing import ClassVar

from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Sparse, WholeOrSparse
from service.rest.schemas.breakdowns import InputAnswer
from service.rest.schemas.figures import figure
from service.rest.schemas.records import PageAnswer


class OfferAnswer(Answer):
    """One supplier's price in force, where nobody has said which supplier decides."""

    supplier = Text(metadata=says("Who offers it."))
    price = Text(metadata=says("The price's id."))
    cost_per_usable_unit = figure("Money per `unit` of what its breakdown leaves to use.")
    unit = Text(metadata=says("kg; of what is not broken down, the ingredient's base unit."))


class GapAnswer(Answer):
    """Something that is not known, and leaves figures without a number."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("kind", "record", "detail", "supplier", "offers", "unit", "to_unit")

    code = Text(metadata=says(
        "Stable: no_price, no_preferred_supplier, missing_conversion, missing_value, no_labour_rate, not_made, "
        "not_in_force, credits_exceed_cost, nothing_carries_the_cost, no_yield, loop. More may come."))
    kind = Text(metadata=says(
        "Of what kind the record is where it is missing: ingredient, cut, breakdown, recipe, dish, settings."))
    record = Text(metadata=says("The code of that record."))
    detail = Text(metadata=says("A sentence with the mend."))
    supplier = Text(metadata=says("no_price: the preferred supplier that has none in force."))
    unit = Text(metadata=says("missing_conversion: from which unit."))
    to_unit = Text(metadata=says("missing_conversion: into which unit."))
    offers = Several(Group(OfferAnswer), metadata=says("no_preferred_supplier: what each supplier in force asks."))


class FindingAnswer(Answer):
    """Something that a person should look at; the figure stands."""

    code = Text(metadata=says(
        "Stable: dearer_than_buying, costs_more_to_finish_than_worth, zero_menu_price. More may come."))
    kind = Text(metadata=says("Of what kind the record is that it is about: cut, dish or another."))
    record = Text(metadata=says("The code of that record."))
    detail = Text(metadata=says("A sentence with the mend."))


class CostAnswer(Answer):
    """What every row of costs gives. `null` is not known, which is not 0; `gaps` says what is missing."""

    as_of = Day(metadata=says("The day that the figures are of."))
    revision = Whole(metadata=says("The latest revision that can have moved the figures."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    status = OneOf(("complete", "incomplete"), metadata=says("incomplete: something is missing, and `gaps` says what."))
    gaps = Several(Group(GapAnswer), metadata=says("What is not known; empty when complete."))
    findings = Several(Group(FindingAnswer), metadata=says("What a person should look at; the figures stand."))
    allergens = Several(Text(), metadata=says("All that is declared below it."))
    allergens_complete = Flag(metadata=says("False: something below it declares nothing: not none."))
    allergens_not_declared = Several(Text(), metadata=says("What declares nothing."))


class LastCompleteAnswer(Answer):
    """The last figure without a gap, as known at the same revision."""

    food_cost = Figure(metadata=says("Material per portion, in `currency`."))
    as_of = Day(metadata=says("The last day on which it held."))


class DishCostAnswer(CostAnswer):
    """What a portion of a dish costs and earns. A key with costs:read alone sees gaps by their code."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("allergens_not_declared",)

    dish = Code(metadata=says("The dish's code."))
    name = Name(metadata=says("As the menu has it."))
    section = Text(metadata=says("The part of the menu it stands in; empty: not said."))
    pos_code = Text(allow_none=True, metadata=says("The dish's code in the POS."))
    food_cost = figure("Material per portion, in `currency`.")
    known_food_cost = figure("At least so much per portion: what is not known counts as nil here.")
    last_complete = Group(LastCompleteAnswer, allow_none=True, metadata=says(
        "Beside a food cost that is null: the last that was not."))
    labour_cost = figure("Labour per portion, in `currency`.")
    menu_price = figure("As recorded.")
    tax_rate_percent = figure("The dish's own, or the kitchen's.")
    price_before_tax = figure("Menu price over (1 + tax rate), or itself where menu prices exclude tax.")
    food_cost_percent = figure("Food cost over price before tax.")
    gross_profit = figure("Price before tax less food cost, before labour.")
    gross_profit_percent = figure("Gross profit over price before tax.")
    target_food_cost_percent = figure("The dish's own, else its section's, else the kitchen's.")
    target_basis = OneOf(("dish", "section", "house"), metadata=says("Whose target it is held to."))
    target_menu_price = figure("The least menu price within the target, in the kitchen's steps.")
    within_target = Flag(allow_none=True, metadata=says(
        "Whether the published food-cost % is at most the target; null: not known."))


class SparseDishCostAnswer(Sparse, DishCostAnswer):
    """Of a dish's costs the members that `fields` asked for."""


class DishCostPage(PageAnswer):
    """A page of dish costs."""

    data = Several(WholeOrSparse(DishCostAnswer, SparseDishCostAnswer), metadata=says("By code."))


class CutCostAnswer(CostAnswer):
    """What a kg of a cut costs, and how it came to."""

    cut = Code(metadata=says("The cut's code."))
    name = Name(metadata=says("What the kitchen calls it."))
    role = Text(metadata=says("main, trim or by_product."))
    uses = Several(Text(), metadata=says("The cookery that it suits."))
    breakdown = Code(metadata=says("The breakdown in use that makes it."))
    input = Group(InputAnswer, metadata=says("What is broken down."))
    ingredient = Code(allow_none=True, metadata=says("What was bought, at the start of the chain."))
    method = Text(metadata=says("How the joint cost is shared: weight, market_value, net_realisable_value ..."))
    yield_fraction = Figure(data_key="yield", metadata=says("Output weight over input weight."))
    yield_basis = OneOf(("declared", "tests"), metadata=says(
        "Where the yield is from: declared in the breakdown, or from the tests that count."))
    yield_of_ingredient = figure("The product of the yields down the chain.")
    material_cost_per_kg = figure("Material, money per kg. Of a by-product its credit value.")
    labour_cost_per_kg = figure("Labour, finishing included, money per kg.")
    cost_per_kg = figure("Material and labour, money per kg.")
    cost_factor = figure("Material cost per kg over the price per kg of what was bought; true at this price only.")
    share_of_joint_cost = figure("Of the breakdown's pools.")
    market_value = figure("As recorded: money per kg, ready-trimmed and finished.")
    portion_weight_kg = figure("As recorded: kg, raw.")
    piece_weight_kg = figure("What a piece of what was bought weighs, in kg.")
    piece_weight_basis = Text(allow_none=True, metadata=says(
        "Where that weight is from: yield_tests or conversion; null: not known."))
    kg_per_piece = figure("What a piece gives of this cut, in kg.")
    portions_per_piece = Whole(allow_none=True, metadata=says("Whole portions that a piece gives."))
    tail_kg = figure("What is left of a piece's cut after whole portions, in kg.")
    cost_per_portion = figure("Of a raw portion, the tail used.")
    cost_per_portion_tail_lost = figure("Of a raw portion, the tail lost: all of the cut over its whole portions.")


class SparseCutCostAnswer(Sparse, CutCostAnswer):
    """Of a cut's costs the members that `fields` asked for."""


class CutCostPage(PageAnswer):
    """A page of cut costs."""

    data = Several(WholeOrSparse(CutCostAnswer, SparseCutCostAnswer), metadata=says("By code."))


class LineCostAnswer(Answer):
    """What one line takes and costs, of all that the recipe makes. It names one of ingredient, cut and recipe."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("ingredient", "cut", "recipe")

    ingredient = Code(metadata=says("The ingredient that it takes."))
    cut = Code(metadata=says("The cut that it takes."))
    recipe = Code(metadata=says("The recipe that it takes."))
    unit = Text(metadata=says("The unit of both quantities."))
    as_purchased_quantity = Figure(metadata=says("What goes into the pot."))
    edible_portion_quantity = Figure(metadata=says("What is left of it after preparation and cooking."))
    material_cost = figure("Money.")
    labour_cost = figure("Money.")
    cost = figure("Money, material and labour.")


class RecipeCostAnswer(CostAnswer):
    """What a recipe costs: all that it makes, a unit of it, and a base unit as others use it."""

    recipe = Code(metadata=says("The recipe's code."))
    name = Name(metadata=says("What the kitchen calls it."))
    makes_quantity = Figure(metadata=says("How much it makes, in `makes_unit`."))
    makes_unit = Text(metadata=says("The unit of `makes_quantity`."))
    base_unit = Text(metadata=says("kg, l or each: the unit that others take it in."))
    lines = Several(Group(LineCostAnswer), metadata=says("What it takes, in the recipe's order."))
    material_cost = figure("Money, of all that it makes.")
    labour_cost = figure("Money, of all that it makes.")
    cost = figure("Money, of all that it makes.")
    known_material_cost = figure("At least so much.")
    material_cost_per_unit = figure("Money per `makes_unit`.")
    labour_cost_per_unit = figure("Money per `makes_unit`.")
    cost_per_unit = figure("Money per `makes_unit`.")
    material_cost_per_base_unit = figure("Money per `base_unit`.")
    labour_cost_per_base_unit = figure("Money per `base_unit`.")
    cost_per_base_unit = figure("Money per `base_unit`.")


class SparseRecipeCostAnswer(Sparse, RecipeCostAnswer):
    """Of a recipe's costs the members that `fields` asked for."""


class RecipeCostPage(PageAnswer):
    """A page of recipe costs."""

    data = Several(WholeOrSparse(RecipeCostAnswer, SparseRecipeCostAnswer), metadata=says("By code."))
