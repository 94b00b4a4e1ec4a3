"""Yield statistics on the wire."""

from typing import ClassVar

from service.domain.yield_part import BY
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.figures import figure
from service.rest.schemas.records import PositionQuery


class YieldsQuery(PositionQuery):
    """Of which tests, as of which day, as known at which revision."""

    butcher = Text(max=120, metadata=says("Only tests of this butcher, as recorded; empty: those that name none."))
    supplier = Code(metadata=says("Only tests of this supplier's goods."))
    grade = Text(max=60, metadata=says("Only tests of goods of this grade, as recorded; empty: those that name none."))
    by = OneOf(BY, metadata=says("Give the figures of each butcher, supplier or grade side by side too."))


class NamedTestAnswer(Answer):
    """A yield test, by its id and day."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("reason", "not_weighed", "not_listed")

    test = Text(metadata=says("Its id."))
    tested_on = Day(metadata=says("When it was made."))
    reason = Text(metadata=says("Why it was set aside, or is not chosen."))
    not_weighed = Several(Text(), metadata=says("Outputs of the breakdown that it did not weigh."))
    not_listed = Several(Text(), metadata=says("What it weighed that the breakdown does not list."))


class ChartPointAnswer(NamedTestAnswer):
    """A test on the control chart."""

    yield_fraction = figure("The test's own.", data_key="yield")
    outside = Flag(metadata=says("Whether it lies outside the limits."))


class CountingTestAnswer(NamedTestAnswer):
    """A test that counts, and what it may be told apart by."""

    butcher = Text(metadata=says("Who did it; empty: not said."))
    supplier = Code(allow_none=True, metadata=says("Whose goods they were; null: not said."))
    grade = Text(metadata=says("The grade of the goods; empty: not said."))


class ControlChartAnswer(Answer):
    """An individuals chart: mean +/- 2.66 x mean moving range."""

    centre = figure("The mean.")
    mean_moving_range = figure("Of neighbouring tests; null below two.")
    lower_limit = figure("Null below two tests.")
    upper_limit = figure("Null below two tests.")
    points = Several(Group(ChartPointAnswer), metadata=says("In order of the tests' days."))
    outside = Several(Text(), metadata=says("The tests outside the limits."))


class ChartRuleAnswer(Answer):
    """A rule of the control chart that fired."""

    rule = Text(metadata=says(
        "outside_limits: a test lies outside the limits. eight_on_one_side: eight tests running lie above the centre, "
        "or below it; fires at the eighth, once a run. More may come."))
    test = Text(metadata=says("The test at which it fired."))
    tested_on = Day(metadata=says("When that was made."))
    side = Text(metadata=says("above or below."))
    since = Day(metadata=says("The day of the first test that it rests on."))


class YieldTrendAnswer(Answer):
    """The straight line through the tests' own yields by their days, by least squares."""

    per_30_days = figure("Its slope: a fraction of the input's weight in 30 days, to 6 decimals.")
    standard_error = figure("Of the slope.")
    interval_95 = Several(Figure(), metadata=says("Lower and upper, by Student's t with two degrees of freedom less."))
    excludes_zero = Flag(metadata=says("Whether the interval leaves out zero: more than the tests' own scatter."))


class YieldSurenessAnswer(Answer):
    """A yield by tests, and how sure it is."""

    tests = Whole(metadata=says("Tests looked at."))
    ratio = figure("Sum of its weights over the sum of the input weights.")
    standard_error = figure("Of the ratio; null below two tests.")
    interval_95 = Several(Figure(), allow_none=True, metadata=says("Lower and upper, by Student's t."))


class ChartedYieldAnswer(YieldSurenessAnswer):
    """What the tests say of one part of the input."""

    control_chart = Group(ControlChartAnswer, allow_none=True, metadata=says(
        "Of the tests looked at; null: there is none."))
    rules = Several(Group(ChartRuleAnswer), metadata=says("The rules that fired, in order of the tests' days."))
    trend = Group(YieldTrendAnswer, allow_none=True, metadata=says("Null below three tests, or with all on one day."))


class OutputStatisticsAnswer(ChartedYieldAnswer):
    """What the tests say of one output."""

    cut = Code(metadata=says("Its code."))
    name = Text(metadata=says("What the kitchen calls it."))
    role = Text(metadata=says("main, trim, by_product or loss."))
    yield_fraction = figure("In force.", data_key="yield")
    expected_yield = figure("As declared.")


class YieldGroupOutputAnswer(YieldSurenessAnswer):
    """What a group's tests say of one output."""

    cut = Code(metadata=says("Its code."))


class YieldGroupAnswer(Answer):
    """The tests of one butcher, supplier or grade."""

    value = Text(allow_none=True, metadata=says("Which; null: those that name none."))
    tests = Whole(metadata=says("Tests in the group."))
    outputs = Several(Group(YieldGroupOutputAnswer), metadata=says("In the breakdown's order."))
    unaccounted = Group(YieldSurenessAnswer, metadata=says("What is in no output."))


class YieldPartAnswer(Answer):
    """Which tests are looked at."""

    butcher = Text(allow_none=True, metadata=says("This butcher's; null: all."))
    supplier = Text(allow_none=True, metadata=says("Of this supplier's goods; null: all."))
    grade = Text(allow_none=True, metadata=says("Of this grade; null: all."))
    tests = Whole(metadata=says("How many tests that is."))
    of_tests = Whole(metadata=says("Of how many that count."))


class YieldReadingAnswer(Answer):
    """Something to look at, in plain words."""

    code = Text(metadata=says(
        "lean_into_the_bin: loss (what is unaccounted for too) is up while trim is down, from the earlier half of the "
        "tests to the later, each by more than its own scatter (the 95 % interval of the difference of the means "
        "leaves out zero); at least four tests. outside_limits, eight_on_one_side: a rule of the chart. trend: a slope "
        "whose interval leaves out zero. few_tests: fewer than eight. More may come."))
    text = Text(metadata=says("The sentence."))
    cut = Code(allow_none=True, metadata=says("Of which output; null: of none, or of what is unaccounted for."))
    test = Text(allow_none=True, metadata=says("At which test; null: at none."))
    tested_on = Day(allow_none=True, metadata=says("When that was made."))


class DrainingAnswer(Answer):
    """Purge apart from cutting loss, over the tests that weighed both."""

    tests = Whole(metadata=says("How many they are."))
    purge = figure("Of the weight paid for.")
    cutting_loss = figure("Of the weight paid for.")


class YieldStatisticsAnswer(Answer):
    """The yields of a breakdown, and how sure they are."""

    breakdown = Code(metadata=says("Whose they are."))
    name = Text(metadata=says("Its name."))
    as_of = Day(metadata=says("The day that they are of."))
    revision = Whole(metadata=says("As known at this revision."))
    yields_from = Text(metadata=says("tests or declared, as the breakdown says."))
    yield_basis = Text(metadata=says("What they are from."))
    yields_from_last_tests = Whole(allow_none=True, metadata=says("Only so many tests count; null: all."))
    yields_from_tests_since = Day(allow_none=True, metadata=says("Only tests from this day on count; null: all."))
    unaccounted = figure("What is left of 1 after all yields.")
    part = Group(YieldPartAnswer, allow_none=True, metadata=says(
        "Where the statistics are of a part of the tests that count; yields in force are always of all. Null: of all."))
    draining = Group(DrainingAnswer, allow_none=True, metadata=says("Null: no test weighed it."))
    reading = Several(Group(YieldReadingAnswer), metadata=says("What a person should look at."))
    counting = Several(Group(CountingTestAnswer), metadata=says("Tests that count."))
    not_chosen = Several(Group(NamedTestAnswer), metadata=says(
        "Tests that the breakdown could rest on and does not, since it chooses the last, or those since a day."))
    set_aside = Several(Group(NamedTestAnswer), metadata=says("Tests that somebody set aside, and why."))
    set_aside_by_itself = Several(Group(NamedTestAnswer), metadata=says("Weighed against other outputs."))
    not_yet_made = Several(Group(NamedTestAnswer), metadata=says("Tests of later days."))
    outputs = Several(Group(OutputStatisticsAnswer), metadata=says("In the breakdown's order."))
    unaccounted_statistics = Group(ChartedYieldAnswer, metadata=says("The same of what is in no output."))
    by = Text(allow_none=True, metadata=says("What the groups are by, as asked for."))
    groups = Several(Group(YieldGroupAnswer), allow_none=True, metadata=says(
        "The tests looked at, by butcher, supplier or grade; by name, those that name none last. Null: not asked for."))
