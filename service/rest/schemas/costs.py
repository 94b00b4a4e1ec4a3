"""Cost answers on the wire: dishes, cuts and recipes."""

from typing import ClassVar

import marshmallow as ma

from service.rest.exact_fields import Code, Day, Figure, Flag, Group, Name, OneOf, Several, Text, Whole
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.breakdowns import InputAnswer
from service.rest.schemas.records import PageAnswer


def _figure(says: str) -> Figure:
    return Figure(allow_none=True, metadata={"description": says})


class GapAnswer(Answer):
    """Something that is not known, and leaves figures without a number."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("kind", "record", "detail", "offers", "unit", "to_unit")

    code = Text(metadata={"description": "Stable: no_price, missing_conversion, no_labour_rate ..."})
    kind = Text(metadata={"description": "Of the record where it is missing."})
    record = Text(metadata={"description": "The code of that record."})
    detail = Text(metadata={"description": "A sentence with the mend."})
    unit = Text()
    to_unit = Text()
    offers = Several(ma.fields.Dict())


class FindingAnswer(Answer):
    """Something that a person should look at; the figure stands."""

    code = Text()
    kind = Text()
    record = Text()
    detail = Text()


class CostAnswer(Answer):
    """What every row of costs gives. `null` is not known, which is not 0; `gaps` says what is missing."""

    as_of = Day()
    revision = Whole(metadata={"description": "The latest revision that can have moved the figures."})
    currency = Text()
    status = OneOf(("complete", "incomplete"))
    gaps = Several(Group(GapAnswer))
    findings = Several(Group(FindingAnswer))
    allergens = Several(Text(), metadata={"description": "All that is declared below it."})
    allergens_complete = Flag(metadata={"description": "False: something below it declares nothing: not none."})
    allergens_not_declared = Several(Text(), metadata={"description": "What declares nothing."})


class LastCompleteAnswer(Answer):
    """The last figure without a gap, as known at the same revision."""

    food_cost = Figure()
    as_of = Day(metadata={"description": "The last day on which it held."})


class DishCostAnswer(CostAnswer):
    """What a portion of a dish costs and earns. A key with costs:read alone sees gaps by their code."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("allergens_not_declared",)

    dish = Code()
    name = Name()
    section = Text()
    pos_code = Text(allow_none=True)
    food_cost = _figure("Material per portion.")
    known_food_cost = _figure("At least so much: what is not known counts as nil.")
    last_complete = Group(LastCompleteAnswer, allow_none=True, metadata={
        "description": "Beside a food cost that is null: the last that was not."})
    labour_cost = _figure("Labour per portion.")
    menu_price = _figure("As recorded.")
    tax_rate_percent = _figure("The dish's own, or the kitchen's.")
    price_before_tax = _figure("What food cost and gross profit are held against.")
    food_cost_percent = _figure("Food cost over price before tax.")
    gross_profit = _figure("Price before tax less food cost, before labour.")
    gross_profit_percent = _figure("Gross profit over price before tax.")
    target_food_cost_percent = _figure("The dish's own, or the kitchen's.")
    target_menu_price = _figure("The least menu price within the target, in the kitchen's steps.")
    within_target = Flag(allow_none=True)


class DishCostPage(PageAnswer):
    """A page of dish costs."""

    data = Several(Group(DishCostAnswer))


class CutCostAnswer(CostAnswer):
    """What a kg of a cut costs, and how it came to."""

    cut = Code()
    name = Name()
    role = Text()
    uses = Several(Text())
    breakdown = Code()
    input = Group(InputAnswer)
    ingredient = Code(allow_none=True, metadata={"description": "What was bought, at the start of the chain."})
    method = Text()
    yield_fraction = Figure(data_key="yield", metadata={"description": "Output weight over input weight."})
    yield_basis = OneOf(("declared", "tests"))
    yield_of_ingredient = _figure("The product of the yields down the chain.")
    material_cost_per_kg = _figure("Material.")
    labour_cost_per_kg = _figure("Labour, finishing included.")
    cost_per_kg = _figure("Material and labour.")
    cost_factor = _figure("Material cost per kg over the price per kg of what was bought; true at this price only.")
    share_of_joint_cost = _figure("Of the breakdown's pools.")
    market_value = _figure("As recorded.")
    portion_weight_kg = _figure("As recorded, raw.")
    cost_per_portion = _figure("Of a raw portion, the tail used.")


class CutCostPage(PageAnswer):
    """A page of cut costs."""

    data = Several(Group(CutCostAnswer))


class RecipeCostAnswer(CostAnswer):
    """What a recipe costs: all that it makes, a unit of it, and a base unit as others use it."""

    recipe = Code()
    name = Name()
    makes_quantity = Figure()
    makes_unit = Text()
    base_unit = Text()
    material_cost = _figure("Of all that it makes.")
    labour_cost = _figure("Of all that it makes.")
    cost = _figure("Of all that it makes.")
    known_material_cost = _figure("At least so much.")
    material_cost_per_unit = _figure("Per makes_unit.")
    labour_cost_per_unit = _figure("Per makes_unit.")
    cost_per_unit = _figure("Per makes_unit.")
    material_cost_per_base_unit = _figure("Per kg, l or each.")
    labour_cost_per_base_unit = _figure("Per kg, l or each.")
    cost_per_base_unit = _figure("Per kg, l or each.")


class RecipeCostPage(PageAnswer):
    """A page of recipe costs."""

    data = Several(Group(RecipeCostAnswer))
