"""How far food costs could be off by their yields, on the wire."""

from decimal import Decimal

from service.domain.more_tests import MOST_TESTS
from service.rest.comma_lists import CommaList
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import GapAnswer
from service.rest.schemas.figures import figure
from service.rest.schemas.records import ListQuery, PageAnswer


class FoodCostUncertaintyQuery(ListQuery):
    """Which dishes, and within what part of their food cost it should be known."""

    dishes = CommaList(Code(), metadata=says(
        "Only these dishes. One that is not there on the day is left out of the answer."))
    breakdown = Code(metadata=says("Only dishes that rest on the yields of this breakdown."))
    within_percent = ExactDecimal(positive=True, max="100", load_default=Decimal(1), metadata=says(
        "Half of the 95 % interval is wanted within this part of the food cost. 1 unless given."))


class UncertainBreakdownAnswer(Answer):
    """A breakdown whose yields the dish rests on, and what it adds."""

    breakdown = Code(metadata=says("Its code."))
    name = Text(metadata=says("Its name."))
    yield_basis = OneOf(("declared", "tests"), metadata=says("Where its yields are from."))
    tests = Whole(metadata=says("Tests that count."))
    known = Flag(metadata=says(
        "false: its yields are declared or from one test, or what it costs is not known; so neither is what it adds."))
    standard_error = figure("Money per portion, by this breakdown's yields alone.")
    share_of_variance_percent = figure("Of all that is uncertain; null while some of it is not known.")


class FoodCostUncertaintyAnswer(Answer):
    """How far the food cost of a dish could be off because its yields are known from a few tests only."""

    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("As the menu has it."))
    section = Text(metadata=says("The section of the menu."))
    status = OneOf(("complete", "not_known", "incomplete"), metadata=says(
        "not_known: a yield that it rests on is declared, or from one test; incomplete: the food cost is not known."))
    food_cost = figure("Material per portion.")
    standard_error = figure("Of the food cost, money per portion, by all yields together; 0 where it rests on none.")
    standard_error_percent = figure("The same, of the food cost.")
    known_standard_error = Figure(metadata=says("At least so much: what is not known counts as nil."))
    degrees_of_freedom = Whole(allow_none=True, metadata=says(
        "Effective, rounded down (Welch and Satterthwaite); null also where nothing varies."))
    half_width = figure("Half of the 95 % interval: Student's t x the standard error.")
    half_width_percent = figure("The same, of the food cost.")
    interval_95 = Several(Figure(), allow_none=True, metadata=says("Of the food cost: lower and upper bound."))
    main_breakdown = Code(allow_none=True, metadata=says(
        "The breakdown that adds most to it; null where that cannot be said, or nothing varies."))
    more_tests = Whole(allow_none=True, metadata=says(
        "The least number of further tests of `main_breakdown`, scattered as those so far, that brings half of the "
        "interval within `within_percent` of the food cost; 0: it is now. Null: see `why_not`."))
    why_not = Text(allow_none=True, metadata=says(
        "Stable: yields_not_known (record tests of the breakdowns that are not known), food_cost_not_known, "
        "food_cost_is_zero, others_too_uncertain (no number of tests of `main_breakdown` alone does it), "
        f"too_many_tests (more than {MOST_TESTS} in all). More may come."))
    counts_last_tests = Whole(allow_none=True, metadata=says(
        "`main_breakdown` counts its last so many tests: let it count more before more can help; null: all."))
    breakdowns = Several(Group(UncertainBreakdownAnswer), metadata=says("Those whose yields it rests on, by code."))
    gaps = Several(Group(GapAnswer), metadata=says("What the food cost lacks."))


class FoodCostUncertaintyPage(PageAnswer):
    """A page of dishes, in the order of their codes."""

    currency = Text(metadata=says("ISO 4217, of every amount here."))
    within_percent = Figure(metadata=says("As asked for."))
    data = Several(Group(FoodCostUncertaintyAnswer), metadata=says("By code."))
