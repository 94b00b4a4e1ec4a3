"""What the sales of a day or a period should have cost. Judges: every day compiled from nothing, in plain fractions;
numpy's weighted average."""

from collections import Counter
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.exact_sums import exact_sum
from service.domain.history import Mark, Version
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import SectionTarget
from service.domain.sales import SaleKind, SalesDay
from service.domain.sales_tally import Tally, added_up
from service.domain.theoretical_food_cost import TheoreticalFoodCost, theoretical_food_cost
from tests.builders import A_DAY, a_dish, a_kitchen, a_line, a_price, an_ingredient
from tests.moving_kitchens import moving_kitchens
from tests.recorded import recorded
from tests.sold import a_comp, a_sale, a_sales_day, a_staff_meal, sales_days

NEXT_DAY = A_DAY + timedelta(days=1)
often = settings(max_examples=30, deadline=None,
                 suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def a_menu(*prices: Any, **soup: Any) -> Kitchen:
    """Soup of 0.1 kg of shallots at 20 a kg (2.00 a portion), bread of 0.1 kg of flour at 5 (0.50)."""
    return recorded(a_kitchen(
        an_ingredient("shallot"), an_ingredient("flour"), a_price("20", ingredient="shallot"),
        a_price("5", ingredient="flour"), *prices,
        a_dish("soup", a_line("ingredient shallot", "0.1"), **{
            "pos_code": "1", "section": "starters", "menu_price": "12", "target_food_cost_percent": "25", **soup}),
        a_dish("bread", a_line("ingredient flour", "0.1"), pos_code="2", section="sides", menu_price="3",
               target_food_cost_percent="10")))


def named(found: TheoreticalFoodCost) -> dict[str, Tally]:
    return {dish.code: dish.tally for dish in found.dishes}


@st.composite
def kitchens_and_sales(draw: Any) -> tuple[Kitchen, list[SalesDay]]:
    """A kitchen that moves, its dishes under codes of their own or one that two share, and sales; of drinks too."""
    kitchen = draw(moving_kitchens())
    dishes = {}
    for place, (code, history) in enumerate(kitchen.dishes.items()):
        pos_code = draw(st.sampled_from([str(place), str(place), str(place), "0", None]))
        dishes[code] = tuple(replace(version, record=replace(version.record, pos_code=pos_code)) for version in history)
    codes = [*map(str, range(max(1, len(dishes)))), "beer"]
    return replace(kitchen, dishes=dishes), draw(sales_days(codes))


def judged(kitchen: Kitchen, day: SalesDay) -> dict[str, Any]:
    """A day from nothing: line by line, in the order they came, by fractions alone."""
    standing = kitchen.on(day.business_date)
    costing = cascade(compile_network(standing))
    cost: Counter[str] = Counter()
    takings, left = Fraction(0), Counter[tuple[str, str]]()
    unknown = set()
    for line in day.lines:
        bearers = [dish for dish in standing.dishes.values() if dish.pos_code == line.pos_code]
        ever = [history for history in kitchen.dishes.values() if history[-1].record.pos_code == line.pos_code]
        if ever:
            takings += Fraction(line.net_takings)
        material = costing.material(("dish", bearers[0].code)) if len(bearers) == 1 else None
        if not ever:
            continue
        if material is None:
            left[line.kind, line.pos_code] += Fraction(line.quantity)  # type: ignore[assignment]
            unknown.add(line.kind)
        else:
            cost[line.kind] += Fraction(line.quantity) * material  # type: ignore[assignment]
    lacking = {kind for (kind, _), quantity in left.items() if quantity}
    return {"takings": takings, "lacking": lacking, "cost": {kind: Fraction(cost[kind]) for kind in SaleKind}}


@often
@given(kitchens_and_sales())
def test_every_day_costs_what_its_lines_cost_one_by_one(told: tuple[Kitchen, list[SalesDay]]) -> None:
    kitchen, days = told
    found = theoretical_food_cost(kitchen, days)
    assert list(found.days) == sorted(day.business_date for day in days)
    for day in days:
        tally, judge = found.days[day.business_date], judged(kitchen, day)
        assert tally.sale.takings == judge["takings"]
        for kind, part in zip(SaleKind, tally.parts, strict=True):
            assert part.cost == judge["cost"][kind]
            assert (part.whole_cost is None) == (kind in judge["lacking"])


@often
@given(kitchens_and_sales())
def test_a_period_is_the_sum_of_its_days_and_of_its_dishes(told: tuple[Kitchen, list[SalesDay]]) -> None:
    kitchen, days = told
    found = theoretical_food_cost(kitchen, days)
    alone = [theoretical_food_cost(kitchen, [day]) for day in days]
    assert found.total == added_up(list(found.days.values())) == added_up([each.total for each in alone])
    counted = [each.tally for each in found.unresolved if each.counts]
    assert found.total == added_up([*named(found).values(), *counted])
    assert found.total == added_up([*found.sections.values(), *counted])
    for code, tally in named(found).items():
        assert tally == added_up([named(each)[code] for each in alone if code in named(each)])


@often
@given(kitchens_and_sales(), st.randoms())
def test_the_order_of_lines_and_of_days_says_nothing(told: tuple[Kitchen, list[SalesDay]], chance: Any) -> None:
    kitchen, days = told
    shuffled = [replace(day, lines=tuple(chance.sample(day.lines, len(day.lines)))) for day in days]
    assert theoretical_food_cost(kitchen, chance.sample(shuffled, len(days))) == theoretical_food_cost(kitchen, days)
    assert all(day.says(other.lines) for day, other in zip(days, shuffled, strict=True))


@often
@given(kitchens_and_sales())
def test_a_void_cancels_its_line(told: tuple[Kitchen, list[SalesDay]]) -> None:
    """Whatever the dish costs, also where that is not known."""
    kitchen, days = told
    for day in days:
        voided = [line._replace(quantity=-line.quantity, net_takings=-line.net_takings) for line in day.lines]
        emptied = theoretical_food_cost(kitchen, [replace(day, lines=(*day.lines, *voided))])
        assert emptied == theoretical_food_cost(kitchen, [replace(day, lines=())])
        assert emptied.total == Tally()


@given(st.lists(st.fractions(max_denominator=10**6)))
def test_a_sum_is_that_of_adding_one_by_one(values: list[Fraction]) -> None:
    assert exact_sum(values) == sum(values, Fraction(0))


def test_a_price_that_moves_at_midnight_counts_from_the_next_day_s_sales_on() -> None:
    kitchen = a_menu(a_price("30", ingredient="shallot", effective_from=NEXT_DAY, made=Mark(2, 1)))
    found = theoretical_food_cost(kitchen, [a_sales_day(day, a_sale("1", "10", "100")) for day in (A_DAY, NEXT_DAY)])
    assert [tally.sale.cost for tally in found.days.values()] == [20, 30]
    assert found.total.food_cost_percent == 25


def test_the_percentage_of_a_menu_is_that_of_its_dishes_weighted_by_their_takings() -> None:
    """Judge: numpy's weighted average."""
    lines = (a_sale("1", "7", "70"), a_sale("2", "31", "93"))
    found = theoretical_food_cost(a_menu(), [a_sales_day(A_DAY, *lines)])
    tallies = named(found)
    weights = [float(tallies[code].sale.takings) for code in ("soup", "bread")]
    for figure in ("food_cost_percent", "gross_profit_percent", "target_food_cost_percent"):
        each = [float(getattr(tallies[code], figure)) for code in ("soup", "bread")]
        assert float(getattr(found.total, figure)) == pytest.approx(np.average(each, weights=weights), rel=1e-12)
    portions = [float(tallies[code].sale.quantity) for code in ("soup", "bread")]
    for figure in ("average_food_cost", "average_gross_profit"):
        each = [float(getattr(tallies[code], figure)) for code in ("soup", "bread")]
        assert float(getattr(found.total, figure)) == pytest.approx(np.average(each, weights=portions), rel=1e-12)


def test_comps_and_staff_meals_cost_and_take_nothing() -> None:
    sold = [a_sale("1", "10", "100"), a_comp("1", "2"), a_staff_meal("2", "4"), a_staff_meal("2", "-1")]
    total = theoretical_food_cost(a_menu(), [a_sales_day(A_DAY, *sold)]).total
    assert [part.cost for part in total.parts] == [10 * 2, 2 * 2, Fraction(3, 2)]
    assert (total.food_cost_percent, total.total_cost_percent) == (20, Fraction(51, 2))
    assert (total.sale.quantity, total.comp.quantity, total.staff_meal.quantity) == (10, 2, 3)
    assert total.gross_profit == 80


def test_a_dish_without_a_price_leaves_the_total_unknown_and_the_rest_beside_it() -> None:
    kitchen = a_menu(an_ingredient("saffron"), a_dish("risotto", a_line("ingredient saffron", "0.1"),
                                                      a_line("ingredient flour", "0.2"), pos_code="3"))
    found = theoretical_food_cost(kitchen, [a_sales_day(A_DAY, a_sale("1", "10", "100"), a_sale("3", "2", "50"))])
    total = found.total
    assert (total.sale.whole_cost, total.food_cost_percent, total.gross_profit, total.within_target) == (None,) * 4
    assert total.known_total_cost == 10 * 2 + 2 * Fraction("0.2") * 5
    assert (total.sale.takings, total.sale.costed_takings, total.costed_food_cost_percent) == (150, 100, 20)
    assert [(gap.code, gap.record) for gap in found.gaps] == [("no_price", "saffron")]


def test_a_code_that_no_dish_bears_is_apart_and_one_that_does_not_tell_the_dish_is_not_known() -> None:
    kitchen = a_menu(a_dish("stew", a_line("ingredient flour"), pos_code="1"), a_dish("gone", pos_code="9"))
    retired = Version(kitchen.dishes["gone"][0].record, Mark(5, 1), A_DAY, retired=True)
    kitchen = kitchen.with_version("dish", "gone", retired)
    lines = [a_sale("beer", "4", "20"), a_sale("2", "10", "30"), a_sale("1", "3", "36"), a_sale("9", "1", "8")]
    found = theoretical_food_cost(kitchen, [a_sales_day(A_DAY, *lines)])
    assert [(each.pos_code, each.bearers.resolved, each.bearers.dishes, each.counts) for each in found.unresolved] == [
        ("1", "shared", ("soup", "stew"), True), ("9", "not_on_menu", ("gone",), True), ("beer", "unknown", (), False)]
    assert (found.total.sale.takings, found.total.sale.costed_takings) == (30 + 36 + 8, 30)
    assert found.total.food_cost_percent is None
    assert [gap.code for gap in found.gaps] == ["pos_code_shared", "pos_code_not_on_menu"]
    drinks = theoretical_food_cost(kitchen, [a_sales_day(A_DAY, *lines[:2])])
    assert drinks.total.is_complete
    assert drinks.total.sale.takings == 30


def test_takings_of_a_dish_that_is_not_known_have_no_target_and_leave_none_to_the_whole() -> None:
    """A target of nil for them would have the menu's look stricter than any dish's. Given away, they weigh nothing."""
    kitchen = a_menu(a_dish("stew", a_line("ingredient flour"), pos_code="1"))
    shared = theoretical_food_cost(kitchen, [a_sales_day(A_DAY, a_sale("2", "10", "30"), a_sale("1", "3", "36"))]).total
    alone = theoretical_food_cost(kitchen, [a_sales_day(A_DAY, a_sale("2", "10", "30"))]).total
    given = theoretical_food_cost(kitchen, [a_sales_day(
        A_DAY, a_sale("2", "10", "30"), a_sale("1", "3", "0", SaleKind.COMP))]).total
    assert shared.target_food_cost_percent is None
    assert alone.target_food_cost_percent == given.target_food_cost_percent == 10


def test_takings_that_are_not_above_nil_have_no_percentages() -> None:
    for takings in ("0", "-5"):
        total = theoretical_food_cost(a_menu(), [a_sales_day(A_DAY, a_sale("1", "2", takings))]).total
        assert total.sale.cost == 4
        assert (total.food_cost_percent, total.gross_profit_percent, total.target_food_cost_percent) == (None,) * 3
        assert total.within_target is None
        assert total.gross_profit == Decimal(takings) - 4


def test_a_menu_is_within_target_by_the_targets_of_what_was_sold() -> None:
    """Soup may cost 25 %, bread 10 %: the same menu is within target or not by what guests choose."""
    for soups, breads, within in ((10, 1, True), (1, 10, False)):
        lines = [a_sale("1", str(soups), str(10 * soups)), a_sale("2", str(breads), str(Decimal("2.5") * breads))]
        total = theoretical_food_cost(a_menu(), [a_sales_day(A_DAY, *lines)]).total
        assert total.target_cost == soups * Fraction("2.5") + breads * Fraction("0.25")
        assert total.within_target is within


def test_a_dish_without_a_target_is_held_to_that_of_its_section_on_the_day_it_was_sold() -> None:
    """Soup of 2.00 sold at 10.00 is 20 %. The house aims at 30 %; starters at 19 % from the second day on."""
    kitchen = a_menu(target_food_cost_percent=None)
    first = kitchen.settings[0]
    stricter = Version(replace(first.record, section_targets=(
        SectionTarget("sides", Decimal(1)), SectionTarget("starters", Decimal(19)))), Mark(90, 1), NEXT_DAY)
    days = theoretical_food_cost(replace(kitchen, settings=(first, stricter)), [
        a_sales_day(day, a_sale("1", "10", "100")) for day in (A_DAY, NEXT_DAY)]).days
    assert [(tally.food_cost_percent, tally.target_food_cost_percent, tally.within_target)
            for tally in days.values()] == [(20, 30, True), (20, 19, False)]


def test_a_code_that_passes_to_another_dish_counts_for_the_one_on_the_menu() -> None:
    kitchen = a_menu(a_dish("stew", a_line("ingredient flour"), pos_code="1"))
    soup, stew = kitchen.dishes["soup"][0], kitchen.dishes["stew"][0]
    kitchen = replace(kitchen, dishes={
        **kitchen.dishes,
        "soup": (soup, replace(soup, made=Mark(5, 1), effective_from=NEXT_DAY, retired=True)),
        "stew": (replace(stew, effective_from=NEXT_DAY),)})
    found = theoretical_food_cost(kitchen, [a_sales_day(day, a_sale("1", "2", "24")) for day in (A_DAY, NEXT_DAY)])
    assert {code: tally.sale.cost for code, tally in named(found).items()} == {"soup": 4, "stew": 10}
    assert found.unresolved == ()


def test_no_sales_come_to_nothing() -> None:
    found = theoretical_food_cost(a_menu(), [])
    assert (found.total, found.dishes, found.gaps) == (Tally(), (), ())


