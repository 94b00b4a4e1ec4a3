"""Theoretical food cost on the wire."""


from service.domain.pos_codes import Resolved
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Query
from service.rest.schemas.costs import GapAnswer
from service.rest.schemas.figures import figure


class FoodCostQuery(Query):
    """Of which business dates, as known at which revision."""

    start = Day(data_key="from", required=True, metadata=says("The first business date."))
    end = Day(data_key="to", required=True, metadata=says("The last one; at most 366 days in all."))
    known_at = Whole(metadata=says("As known at this revision, sales and costs alike: the head unless given."))


class SoldFiguresAnswer(Answer):
    """What some sales come to, each day's at the costs of that day."""

    status = OneOf(("complete", "incomplete"), metadata=says("incomplete: the cost of something sold is not known."))
    sold = Figure(metadata=says("Portions sold; what was taken back is taken off."))
    comps = Figure(metadata=says("Portions given to guests."))
    staff_meals = Figure(metadata=says("Portions eaten by the staff."))
    menu_mix_percent = figure("Of all portions sold.")
    net_takings = Figure(metadata=says("Money, before tax."))
    takings_share_percent = figure("Of all net takings.")
    food_cost = figure("What the portions sold should have cost: material alone.")
    comp_cost = figure("What the comps should have cost.")
    staff_meal_cost = figure("What the staff meals should have cost.")
    total_cost = figure("The three together: what actual use is to be held against.")
    known_total_cost = Figure(metadata=says("The known part of it: what is not known counts as nil."))
    food_cost_percent = figure("Of net takings; null where those are not above nil.")
    total_cost_percent = figure("Comps and staff meals included, of net takings.")
    target_food_cost_percent = figure(
        "The targets of the dishes, weighted by what each took; null where some was taken under a code that does not "
        "tell the dish.")
    within_target = Flag(allow_none=True, metadata=says("Whether the percentage is at most its target, as published."))
    gross_profit = figure("Net takings less food cost, before labour.")
    gross_profit_percent = figure("Of net takings.")
    average_food_cost = figure("Of a portion sold.")
    average_gross_profit = figure("Of a portion sold.")
    costed_net_takings = Figure(metadata=says("What was taken for dishes whose cost is known."))
    costed_food_cost_percent = figure("What those cost, of what they took.")


class FoodCostDayAnswer(SoldFiguresAnswer):
    """One business date."""

    business_date = Day(metadata=says("The business date."))
    sales_revision = Whole(metadata=says("The revision that recorded its sales."))


class FoodCostSectionAnswer(SoldFiguresAnswer):
    """One section of the menu."""

    section = Text(metadata=says("As the dishes name it; empty: none."))


class FoodCostDishAnswer(SoldFiguresAnswer):
    """One dish, over all days."""

    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("As the menu has it."))
    section = Text(metadata=says("The section of the menu."))
    pos_code = Text(allow_none=True, metadata=says("The dish's code in the POS."))
    gaps = Several(Group(GapAnswer), metadata=says("What its cost lacks on one of the days."))


class CodeWithoutDishAnswer(Answer):
    """What was sold under a code that does not tell the dish."""

    pos_code = Text(metadata=says("The POS's code."))
    reason = OneOf(tuple(each for each in Resolved if each is not Resolved.DISH), metadata=says(
        "unknown: no dish bears it; not_on_menu: its dish is not on that day's menu; shared: several dishes bear it."))
    in_figures = Flag(metadata=says(
        "true: it was food of the menu, its takings count and its cost is not known; false: it is in no figure."))
    dishes = Several(Code(), metadata=says("The dishes concerned."))
    first_date = Day(metadata=says("The first of the days on which it was sold so."))
    last_date = Day(metadata=says("The last of them."))
    sold = Figure(metadata=says("Portions sold."))
    comps = Figure(metadata=says("Portions given to guests."))
    staff_meals = Figure(metadata=says("Portions eaten by the staff."))
    net_takings = Figure(metadata=says("Money, before tax."))


class TheoreticalFoodCostAnswer(Answer):
    """What the sales of a period should have cost."""

    start = Day(data_key="from", metadata=says("The first business date."))
    end = Day(data_key="to", metadata=says("The last one."))
    revision = Whole(metadata=says("Under this `known_at` the same is answered again, to the digit."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    status = OneOf(("complete", "incomplete"), metadata=says("incomplete: the cost of something sold is not known."))
    gaps = Several(Group(GapAnswer), metadata=says("What is missing; empty when all is known."))
    days_without_sales = Several(Day(), metadata=says("The dates of the period for which no sales are recorded."))
    total = Group(SoldFiguresAnswer, metadata=says("The whole period."))
    days = Several(Group(FoodCostDayAnswer), metadata=says("The dates that have sales."))
    sections = Several(Group(FoodCostSectionAnswer), metadata=says("By name."))
    dishes = Several(Group(FoodCostDishAnswer), metadata=says("The dishes that were sold, by code."))
    pos_codes_without_dish = Several(Group(CodeWithoutDishAnswer), metadata=says(
        "Codes that do not tell the dish. What no dish bears is told here alone, with its takings."))


FIGURES: tuple[str, ...] = tuple(SoldFiguresAnswer().fields)
"""The figures, in the order of the table's columns."""
