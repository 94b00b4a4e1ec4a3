"""The impact of an ingredient on the wire."""

from service.domain.impact import Reason
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import GapAnswer
from service.rest.schemas.figures import figure


class WayStepAnswer(Answer):
    """One record on the way."""

    kind = OneOf(("ingredient", "breakdown", "cut", "recipe", "dish"), metadata=says("Of what kind it is."))
    code = Code(metadata=says("Its code."))


def _way() -> Several:
    return Several(Group(WayStepAnswer), metadata=says(
        "The shortest way, from the ingredient to this; of several as short the first by code."))


class ReachedBreakdownAnswer(Answer):
    """A breakdown of the ingredient, or of a cut that comes of it."""

    breakdown = Code(metadata=says("Its code."))
    name = Name(metadata=says("What the kitchen calls it."))
    in_use = Flag(metadata=says("Whether it makes its cuts; one that does not reaches nothing further."))
    way = _way()
    one_more = figure("What 1.00 more per base unit adds to its material, money per kg of its input.")


class ReachedCutAnswer(Answer):
    """A cut that comes of the ingredient."""

    cut = Code(metadata=says("Its code."))
    name = Name(metadata=says("What the kitchen calls it."))
    way = _way()
    one_more = figure("What 1.00 more per base unit adds to its material, money per kg.")


class ReachedRecipeAnswer(Answer):
    """A recipe that takes something of the ingredient."""

    recipe = Code(metadata=says("Its code."))
    name = Name(metadata=says("What the kitchen calls it."))
    way = _way()
    one_more = figure("What 1.00 more per base unit adds to its material, money per base unit of what it makes.")


class OneMoreAnswer(Answer):
    """What 1.00 more per base unit does to a portion. Costs are linear in prices: as much for each further 1.00."""

    food_cost = figure("Money per portion.")
    food_cost_percent = figure("In points.")
    gross_profit = figure("Money per portion.")


class DishImpactAnswer(Answer):
    """What the ingredient is to one dish, today and at another price, everything else as it is."""

    dish = Code(metadata=says("The dish's code."))
    name = Name(metadata=says("As the menu has it."))
    section = Text(metadata=says("The part of the menu it stands in; empty: not said."))
    way = _way()
    food_cost = figure("Material per portion.")
    food_cost_percent = figure("Food cost over price before tax.")
    gross_profit = figure("Price before tax less food cost, before labour.")
    target_food_cost_percent = Figure(metadata=says("What it is held to."))
    within_target = Flag(allow_none=True, metadata=says(
        "Whether the published food-cost % is at most the target; null: not known."))
    part = figure("The ingredient's part of the food cost, money per portion, before any credit of its by-products.")
    part_percent = figure("The same over the food cost; above 100 where credits take more off than all else adds.")
    one_more = Group(OneMoreAnswer, metadata=says("What 1.00 more per base unit does."))
    leaves_at = figure(
        "The largest unit price, money per base unit, at which the dish is within its target: 0.0001 more and it is "
        "outside. null: see `reason`.")
    back_at = figure(
        "Of a dish outside its target: the largest unit price at which it is within again. null: even at nothing it "
        "would not be, or it has no food cost so low, since the credits of a breakdown would exceed what its input "
        "costs.")
    change_percent = figure("From the unit price of the day to `leaves_at` or `back_at`.")
    reason = OneOf(tuple(Reason), allow_none=True, metadata=says(
        "Why `leaves_at` is null. incomplete: the food cost is not known. no_menu_price: there is none, or it is zero. "
        "not_moved: the price does not move it, as with a by-product at its credit value. outside_target: it is "
        "outside already, see `back_at`. no_such_price: no price in steps of 0.0001 is within. More may come."))


class ImpactSummaryAnswer(Answer):
    """The dishes, counted."""

    dishes = Whole(metadata=says("How many it reaches."))
    within_target = Whole(metadata=says("How many of them are within their target."))
    outside_target = Whole(metadata=says("How many are outside; of the others it is not known."))
    first_leaves_at = figure("The lowest `leaves_at`; null: there is none.")


class ImpactAnswer(Answer):
    """Everything that an ingredient reaches, and what its price does to each dish."""

    as_of = Day(metadata=says("The day that the figures are of."))
    revision = Whole(metadata=says("As known at this revision."))
    ingredient = Code(metadata=says("Whose impact it is."))
    name = Name(metadata=says("What the kitchen calls it."))
    base_unit = Text(metadata=says("kg, l or each: what unit prices are per."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    unit_price = figure("Money per base unit, of the price that decides.")
    gaps = Several(Group(GapAnswer), metadata=says("Why no price decides; empty when one does."))
    summary = Group(ImpactSummaryAnswer, metadata=says("The dishes, counted."))
    breakdowns = Several(Group(ReachedBreakdownAnswer), metadata=says("By code."))
    cuts = Several(Group(ReachedCutAnswer), metadata=says("By code."))
    recipes = Several(Group(ReachedRecipeAnswer), metadata=says("By code."))
    dishes = Several(Group(DishImpactAnswer), metadata=says("By code."))
