"""The cost of a dish through time: held against the whole kitchen costed on every single day."""

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.cost_history import CostPoint, cost_history
from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from tests.builders import a_breakdown, a_dish, a_line, a_loss, a_main, a_price, a_primal, an_ingredient, some_settings

FIRST = date(2026, 1, 1)
DAYS = 30
LAST = FIRST + timedelta(days=DAYS)


def history(record: object, start: date | None = None) -> tuple[Version, ...]:
    return (Version(record, Mark(1, 1), start),)


def on(day: int) -> date:
    return FIRST + timedelta(days=day)


def a_kitchen(topside: dict[int, str], shallot: dict[int, str], settings_from: int | None = None) -> Kitchen:
    """A cap on one dish and shallots on another; prices by the day from which they hold."""
    def prices(code: str, by_day: dict[int, str]) -> tuple[object, ...]:
        return tuple(a_price(amount, ingredient=code, effective_from=on(day), made=Mark(2, number))
                     for number, (day, amount) in enumerate(by_day.items(), 1))

    later = () if settings_from is None else (
        Version(some_settings(default_target_food_cost_percent="25"), Mark(3, 1), on(settings_from)),)
    return replace(
        EMPTY, revision=3, settings=(Version(some_settings(), Mark(1, 1), None), *later),
        ingredients={"beef-topside": history(a_primal()), "shallot": history(an_ingredient())},
        prices={"beef-topside": prices("beef-topside", topside), "shallot": prices("shallot", shallot)},
        breakdowns={"topside-seamed": history(a_breakdown(
            a_main("topside-cap", "0.50", "16"), a_loss("silverskin", "0.05"), code="topside-seamed"))},
        dishes={"cap": history(a_dish("cap", a_line("cut topside-cap", "1", "kg"), menu_price="60")),
                "sides": history(a_dish("sides", a_line("ingredient shallot", "1", "kg")))})


def cost_on(kitchen: Kitchen, day: date) -> Fraction | None:
    """By the whole kitchen of that day, not only what lies below the dish."""
    return cascade(compile_network(kitchen.on(day))).figures(("dish", "cap")).material


def standing_on(points: list[CostPoint], day: date) -> CostPoint:
    return [point for point in points if point.day <= day][-1]


AMOUNTS = st.dictionaries(st.integers(-3, DAYS + 3), st.sampled_from(["12", "13.50", "14.20"]), max_size=5)


@settings(max_examples=50, deadline=None)
@given(AMOUNTS, AMOUNTS)
def test_between_its_points_the_history_holds_on_every_day(topside: dict[int, str], shallot: dict[int, str]) -> None:
    kitchen = a_kitchen(topside, shallot)
    points = cost_history(kitchen, "cap", FIRST, LAST, 100)
    assert points[0].day == FIRST
    for number in range(DAYS + 1):
        figures = standing_on(points, on(number)).figures
        assert figures is not None
        assert figures.food_cost == cost_on(kitchen, on(number)), on(number)
    costs = [point.figures and point.figures.food_cost for point in points]
    assert all(one != other for one, other in pairwise(costs))


def test_each_point_says_what_moved_it_and_nothing_beside_the_dish_does() -> None:
    points = cost_history(a_kitchen({0: "12", 9: "14.20"}, {4: "2", 9: "3"}), "cap", FIRST, LAST, 100)
    assert [point.day for point in points] == [FIRST, on(9)]
    assert [(cause.kind, cause.code) for cause in points[1].causes] == [("price", "beef-topside")]


def test_another_target_is_a_point_of_its_own() -> None:
    points = cost_history(a_kitchen({0: "12"}, {}, settings_from=7), "cap", FIRST, LAST, 100)
    assert [point.day for point in points] == [FIRST, on(7)]
    assert points[1].figures is not None
    assert points[1].figures.terms.target == Fraction(1, 4)


def test_of_more_days_than_are_told_the_latest_are() -> None:
    weekly = {day: str(10 + day) for day in range(1, 21)}
    points = cost_history(a_kitchen(weekly, {}), "cap", FIRST, LAST, 5)
    assert [point.day for point in points] == [on(day) for day in (16, 17, 18, 19, 20)]


def test_a_dish_that_is_not_on_the_menu_yet_has_no_figures_until_its_first_day() -> None:
    kitchen = a_kitchen({0: "12"}, {})
    late = replace(kitchen, dishes={"cap": history(kitchen.dishes["cap"][0].record, on(5))})
    points = cost_history(late, "cap", FIRST, LAST, 100)
    assert [(point.day, point.figures is None) for point in points] == [(FIRST, True), (on(5), False)]
