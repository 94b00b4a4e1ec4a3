"""What a what-if answers, on the wire."""

from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import CutCostAnswer, DishCostAnswer, FindingAnswer, RecipeCostAnswer
from service.rest.schemas.figures import figure


class WhatIfFiguresAnswer(DishCostAnswer):
    """A dish's figures at one side of the change."""

    class Meta(DishCostAnswer.Meta):
        exclude = ("as_of", "revision", "last_complete", "dish", "name", "section", "pos_code", "currency", "findings",
                   "tax_rate_percent", "target_basis")


class IngredientPriceMendAnswer(Answer):
    """The unit price of an ingredient at which the dish is within its target again."""

    ingredient = Code(metadata=says("The ingredient's code."))
    name = Text(metadata=says("What the kitchen calls it."))
    base_unit = Text(metadata=says("kg, l or each: what unit prices are per."))
    broken_down = Flag(metadata=says("Whether it is a primal: something that is broken down."))
    unit_price = figure("The largest at which the dish is within; 0.0001 more and it is outside.")
    unit_price_now = figure("What it would cost by what is supposed.")
    change_percent = figure("From the one to the other.")


class MendsAnswer(Answer):
    """What would mend a dish, each alone and all else as it is; null, or not listed: it cannot."""

    menu_price = figure(
        "The target menu price: the least, in the kitchen's steps, at which the exact food cost is within target.")
    portions = Text(allow_none=True, metadata=says("The least number of portions that its lines would have to serve."))
    portion_percent = figure("How large a portion would then be, of one now; cut off, so that it is small enough.")
    ingredient_prices = Several(Group(IngredientPriceMendAnswer), metadata=says(
        "The prices that can mend it, the smallest change first."))


class WhatIfDishAnswer(Answer):
    """A dish whose published figures would move."""

    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("As the menu has it."))
    section = Text(metadata=says("The part of the menu it stands in."))
    before = Group(WhatIfFiguresAnswer, allow_none=True, metadata=says("Its figures as they are."))
    after = Group(WhatIfFiguresAnswer, allow_none=True, metadata=says("Its figures as they would be."))
    mends = Group(MendsAnswer, allow_none=True, metadata=says(
        "What would mend it; null unless it would be outside its target, and was asked for."))


class WhatIfCutAnswer(Answer):
    """A cut whose published figures would move."""

    cut = Code(metadata=says("The cut's code."))
    name = Text(metadata=says("What the kitchen calls it."))
    before = Group(CutCostAnswer, allow_none=True, metadata=says("Its costs as they are."))
    after = Group(CutCostAnswer, allow_none=True, metadata=says("Its costs as they would be."))


class WhatIfRecipeAnswer(Answer):
    """A recipe whose published figures would move."""

    recipe = Code(metadata=says("The recipe's code."))
    name = Text(metadata=says("What the kitchen calls it."))
    before = Group(RecipeCostAnswer, allow_none=True, metadata=says("Its costs as they are."))
    after = Group(RecipeCostAnswer, allow_none=True, metadata=says("Its costs as they would be."))


class MenuTotalsAnswer(Answer):
    """The menu as a whole: so many portions of each dish, made of the published figures of the rows."""

    dishes = Whole(metadata=says("How many dishes have covers."))
    dishes_without_figures = Whole(metadata=says("Those of them in no sum, as their cost or price is not known."))
    dishes_within_target = Whole(metadata=says("On the whole menu."))
    dishes_outside_target = Whole(metadata=says("On the whole menu."))
    covers = figure("Portions in the sums.")
    food_cost = figure("Money for all of them.")
    net_takings = figure("Their prices before tax, for all of them.")
    food_cost_percent = figure("Food cost over takings: the menu's weighted food-cost %.")
    gross_profit = figure("Takings less food cost, before labour.")
    gross_profit_percent = figure("Of takings.")


class MenuBeforeAndAfterAnswer(Answer):
    """The menu as it is and as it would be."""

    before = Group(MenuTotalsAnswer, metadata=says("As it is."))
    after = Group(MenuTotalsAnswer, metadata=says("As it would be."))


class RampDishAnswer(Answer):
    """A dish that moves over the ramp, as curves: an entry for each percentage."""

    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("As the menu has it."))
    target_food_cost_percent = figure("What it is held to.")
    food_cost = Several(figure("Material per portion."), metadata=says("At each percentage."))
    food_cost_percent = Several(figure("Of the price before tax."), metadata=says("At each percentage."))
    gross_profit = Several(figure("Per portion."), metadata=says("At each percentage."))
    within_target = Several(Flag(allow_none=True), metadata=says("At each percentage."))


class RampAnswer(Answer):
    """Prices in steps: the menu at each, and the dishes that move as curves."""

    percents = Several(figure("A step."), metadata=says("The steps."))
    menu = Several(Group(MenuTotalsAnswer), metadata=says("At each percentage."))
    dishes = Several(Group(RampDishAnswer), metadata=says("Those that move, by code."))


class DishSoldAnswer(Answer):
    """A dish that was sold and is not on the menu of the day."""

    dish = Code(metadata=says("The dish's code."))
    quantity = figure("Portions.")


class CodeSoldAnswer(Answer):
    """What was sold under a POS code that does not tell the dish."""

    pos_code = Text(metadata=says("The POS's code."))
    quantity = figure("Portions.")


class WhatIfAnswer(Answer):
    """Every figure that would move, before and after. Nothing is stored."""

    as_of = Day(metadata=says("The day from which it would hold, and that the figures are of."))
    revision = Whole(metadata=says("The latest revision that can have moved the figures."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    weights = OneOf(("equal", "covers", "sales"), metadata=says(
        "equal: the menu is one portion of each dish; else so many as were given or sold."))
    not_on_menu = Several(Group(DishSoldAnswer), metadata=says(
        "Sales of dishes that are not on the menu of the day: they weigh nothing here."))
    without_dish = Several(Group(CodeSoldAnswer), metadata=says("Sales that weigh no dish, by POS code."))
    menu = Group(MenuBeforeAndAfterAnswer, metadata=says("The menu as a whole."))
    leaves_target = Several(Code(), metadata=says("The dishes that would leave their target."))
    re_enters_target = Several(Code(), metadata=says("The dishes that would come back within it."))
    findings = Several(Group(FindingAnswer), metadata=says(
        "What is supposed and moves nothing: price_does_not_decide, not_in_use. More may come."))
    dishes = Several(Group(WhatIfDishAnswer), allow_none=True, metadata=says(
        "Every dish whose figures would move, by code; null: not asked for."))
    cuts = Several(Group(WhatIfCutAnswer), allow_none=True, metadata=says("Every such cut, by code."))
    recipes = Several(Group(WhatIfRecipeAnswer), allow_none=True, metadata=says("Every such recipe, by code."))
    ramp = Group(RampAnswer, allow_none=True, metadata=says("The ramp that was asked for."))


class DishMendsAnswer(Answer):
    """What would mend a dish of the menu."""

    dish = Code(metadata=says("The dish's code."))
    as_of = Day(metadata=says("The day that it is of."))
    revision = Whole(metadata=says("The latest revision that can have moved the figures."))
    currency = Text(metadata=says("ISO 4217."))
    within_target = Flag(allow_none=True, metadata=says("Whether it is within its target; null: not known."))
    mends = Group(MendsAnswer, allow_none=True, metadata=says("Null unless it is outside its target."))
