"""Menu engineering on the wire."""

from service.domain.dishes_chosen import WhyNotCounted
from service.domain.menu_engineering import MenuClass
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


class MenuEngineeringQuery(Query):
    """Of which business dates and section, as known at which revision."""

    start = Day(data_key="from", required=True, metadata=says("The first business date."))
    end = Day(data_key="to", required=True, metadata=says("The last one; at most 366 days in all."))
    section = Text(max=60, metadata=says("Of this section alone; empty: of the dishes without one."))
    known_at = Whole(metadata=says("As known at this revision, sales and costs alike: the head unless given."))


class ClassesAnswer(Answer):
    """How many dishes are of each class."""

    star = Whole(metadata=says("Popular and contributing."))
    plowhorse = Whole(metadata=says("Popular, and contributing less than the mean."))
    puzzle = Whole(metadata=says("Contributing, and not popular."))
    dog = Whole(metadata=says("Neither."))


class _DishNamed(Answer):
    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("As the menu has it."))
    section = Text(metadata=says("The section of the menu."))
    pos_code = Text(allow_none=True, metadata=says("The dish's code in the POS."))


class DishInMatrixAnswer(_DishNamed):
    """A dish and where it stands."""

    covers = Figure(metadata=says("Portions sold, what was taken back taken off; 0: nobody bought it."))
    share_percent = figure("Of all covers.")
    price_before_tax = figure("Of a portion, by the days' menus; of one not sold, that of its last day.")
    food_cost = figure("Of a portion, by the days' costs.")
    contribution = figure("price_before_tax less food_cost.")
    total_contribution = figure("Of all its covers.")
    covers_over_line = figure("covers less popularity_line; below zero: not popular.")
    contribution_over_mean = figure("contribution less mean_contribution; below zero: not contributing.")
    popular = Flag(allow_none=True, metadata=says("At or above the popularity line, exactly."))
    contributing = Flag(allow_none=True, metadata=says("At or above the mean contribution, exactly."))
    class_ = OneOf(tuple(MenuClass), data_key="class", allow_none=True, metadata=says(
        "star: popular and contributing; plowhorse: popular alone; puzzle: contributing alone; dog: neither. null: not "
        "known."))
    gaps = Several(Group(GapAnswer), metadata=says("What its contribution lacks on one of the days."))


class DishNotCountedAnswer(_DishNamed):
    """A dish of the menu that was not sold, and is not one of its number."""

    reason = OneOf(tuple(WhyNotCounted), metadata=says(
        "no_pos_code: sales cannot show it; shared_pos_code: they do not tell it from another; no_menu_price: it is "
        "not chosen for a price. More may come."))


class CodeChosenAnswer(Answer):
    """What was sold under a code that does not tell the dish."""

    pos_code = Text(metadata=says("The POS's code."))
    reason = OneOf(tuple(each for each in Resolved if each is not Resolved.DISH), metadata=says(
        "unknown: no dish bears it; not_on_menu: its dish is not on that day's menu; shared: several dishes bear it."))
    dishes = Several(Code(), metadata=says("The dishes concerned."))
    covers = Figure(metadata=says("Portions sold."))


class MenuEngineeringAnswer(Answer):
    """Which dishes are popular, and which contribute."""

    start = Day(data_key="from", metadata=says("The first business date."))
    end = Day(data_key="to", metadata=says("The last one."))
    section = Text(allow_none=True, metadata=says("The section that it is of; null: the whole menu."))
    revision = Whole(metadata=says("Under this `known_at` the same is answered again, to the digit."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    status = OneOf(("complete", "incomplete"), metadata=says("incomplete: something is missing, and `gaps` says what."))
    gaps = Several(Group(GapAnswer), metadata=says("What is not known; empty when complete."))
    sales_days = Whole(metadata=says("How many of the dates have sales; no other is looked at."))
    covers = Figure(metadata=says("Portions sold of all dishes; comps and staff meals were not chosen."))
    dishes_counted = Whole(metadata=says("How many dishes an even share is of: sold, or there to be bought."))
    popularity_line_percent = figure("70 % of an even share, as a share of covers.")
    popularity_line = figure("The same in covers; null: nothing was sold.")
    contribution = Figure(metadata=says("Of all covers whose contribution is known."))
    mean_contribution = figure("The weighted mean: `contribution` over those covers.")
    price_before_tax = Figure(metadata=says("Of all those covers."))
    food_cost = Figure(metadata=says("Of all those covers."))
    food_cost_percent = figure("food_cost of price_before_tax.")
    classes = Group(ClassesAnswer, metadata=says("How many dishes are of each class."))
    dishes = Several(Group(DishInMatrixAnswer), metadata=says("By code."))
    not_counted = Several(Group(DishNotCountedAnswer), metadata=says("Dishes of the menu that are not in the number."))
    pos_codes_without_dish = Several(Group(CodeChosenAnswer), metadata=says(
        "Codes that do not tell the dish: of a section, those that dishes of it bear, and those that none bears."))
