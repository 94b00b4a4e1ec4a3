"""Which dishes are popular, and which contribute. Judges: every day compiled from nothing, line by line; numpy's
weighted average."""

from collections import defaultdict
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
from service.domain.dishes_chosen import DishesChosen, dishes_chosen
from service.domain.history import Mark, Version
from service.domain.kitchen import Kitchen
from service.domain.menu import dish_figures
from service.domain.menu_engineering import DishSales, MenuClass, menu_matrix
from service.domain.sales import SaleKind, SalesDay
from tests.builders import A_DAY, a_dish, a_kitchen, a_line, a_price, an_ingredient, some_settings
from tests.moving_kitchens import moving_kitchens
from tests.recorded import recorded
from tests.sold import a_sale, a_sales_day, sales_days

NEXT_DAY = A_DAY + timedelta(days=1)
AMOUNTS = st.fractions(min_value=0, max_value=50, max_denominator=100)


def a_dish_sold(code: str, covers: str, contribution: str) -> DishSales:
    """So many covers that leave so much each, at a cost of 1."""
    portions = Fraction(covers)
    return DishSales(code, portions, (Fraction(contribution) + 1) * (portions or 1), Fraction(portions or 1))


def classes(*dishes: DishSales) -> dict[str, MenuClass | None]:
    return {dish.sales.code: dish.menu_class for dish in menu_matrix(dishes).dishes}


def a_menu(*more: Any) -> Kitchen:
    """Soup of 0.1 kg of shallots at 20 a kg, 10 before tax: 8 a portion. Bread of 0.1 kg of flour at 5, 3: 2.50."""
    return recorded(a_kitchen(
        an_ingredient("shallot"), an_ingredient("flour"), a_price("20", ingredient="shallot"),
        a_price("5", ingredient="flour"), *more,
        a_dish("soup", a_line("ingredient shallot", "0.1"), pos_code="1", section="starters", menu_price="12"),
        a_dish("bread", a_line("ingredient flour", "0.1"), pos_code="2", section="sides", menu_price="3.60")))


def by_code(found: DishesChosen) -> dict[str, DishSales]:
    return {dish.code: dish for dish in found.dishes}


def test_a_dish_on_the_popularity_line_exactly_is_popular() -> None:
    """Ten dishes, 1 000 covers: an even share is 100, the line at 70."""
    others = [a_dish_sold(f"other-{n}", "107.5", "5") for n in range(8)]
    for covers, rest, popular in (("70", "70", True), ("69.999999", "70.000001", False)):
        matrix = menu_matrix([a_dish_sold("pie", covers, "5"), a_dish_sold("tart", rest, "5"), *others])
        assert (matrix.covers, matrix.popularity_line) == (1000, 70)
        assert matrix.dishes[0].popular is popular
        assert matrix.dishes[1].popular is True


def test_a_dish_on_the_mean_contribution_exactly_contributes() -> None:
    """10 at 4 and 20 at 7 leave 6 on average."""
    sold = (a_dish_sold("low", "10", "4"), a_dish_sold("high", "20", "7"))
    for contribution, contributing in (("6", True), ("5.999999", False)):
        matrix = menu_matrix([*sold, a_dish_sold("on-the-line", "0.000001", contribution)])
        assert matrix.dishes[2].contributing is contributing
    assert menu_matrix([*sold, a_dish_sold("on-the-line", "5", "6")]).mean_contribution == 6


def test_the_lines_are_exact_where_published_figures_would_tie() -> None:
    """A third of a penny under the mean is published as the mean, and is under it."""
    matrix = menu_matrix([a_dish_sold("a", "1", "5"), a_dish_sold("b", "100000", "5.00001")])
    assert matrix.dishes[0].contributing is False


def test_one_dish_alone_is_a_star_and_dishes_alike_are_all_stars() -> None:
    assert classes(a_dish_sold("only", "3", "2")) == {"only": "star"}
    assert set(classes(*(a_dish_sold(f"d{n}", "7", "3.3") for n in range(7))).values()) == {"star"}


def test_each_corner_of_the_matrix_has_its_class() -> None:
    assert classes(a_dish_sold("a", "100", "9"), a_dish_sold("b", "100", "2"), a_dish_sold("c", "10", "9"),
                   a_dish_sold("d", "10", "2")) == {"a": "star", "b": "plowhorse", "c": "puzzle", "d": "dog"}


def test_a_menu_of_which_nothing_was_sold_has_no_lines_and_no_classes() -> None:
    matrix = menu_matrix([a_dish_sold("a", "0", "9")])
    assert (matrix.popularity_line, matrix.mean_contribution, matrix.dishes[0].menu_class) == (None, None, None)
    assert menu_matrix([]).popularity_line_percent is None


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(AMOUNTS, AMOUNTS, AMOUNTS), min_size=1, max_size=9), st.randoms())
def test_the_mean_is_the_weighted_one_and_the_order_of_dishes_says_nothing(
        told: list[tuple[Fraction, Fraction, Fraction]], chance: Any) -> None:
    """Judge: numpy's weighted average. Some dish always contributes at least the mean, and some is popular."""
    dishes = [DishSales(f"dish-{n}", covers, price * (covers or 1), cost * (covers or 1))
              for n, (covers, price, cost) in enumerate(told)]
    matrix = menu_matrix(dishes)
    shuffled = menu_matrix(chance.sample(dishes, len(dishes)))
    assert {each.sales.code: each for each in matrix.dishes} == {each.sales.code: each for each in shuffled.dishes}
    if not matrix.covers:
        return
    weights = [float(covers) for covers, _, _ in told]
    mean = np.average([float(price - cost) for _, price, cost in told], weights=weights)
    assert float(matrix.mean_contribution or 0) == pytest.approx(mean, rel=1e-9, abs=1e-9)
    assert any(dish.contributing for dish in matrix.dishes)
    assert any(dish.popular for dish in matrix.dishes)
    assert sum((dish.share_percent or Fraction(0) for dish in matrix.dishes), Fraction(0)) == 100


@st.composite
def kitchens_and_sales(draw: Any) -> tuple[Kitchen, list[SalesDay]]:
    """A kitchen that moves, each dish under a code of its own; a drink is sold too."""
    kitchen = draw(moving_kitchens())
    dishes = {code: tuple(replace(version, record=replace(version.record, pos_code=code)) for version in history)
              for code, history in kitchen.dishes.items()}
    return replace(kitchen, dishes=dishes), draw(sales_days([*dishes, "beer"]))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(kitchens_and_sales())
def test_covers_contribute_what_their_day_s_price_and_cost_leave(told: tuple[Kitchen, list[SalesDay]]) -> None:
    kitchen, days = told
    found = dishes_chosen(kitchen, days)
    covers: defaultdict[str, Fraction] = defaultdict(Fraction)
    left: defaultdict[str, Fraction | None] = defaultdict(Fraction)
    for day in days:
        standing = kitchen.on(day.business_date)
        costing = cascade(compile_network(standing))
        net: defaultdict[str, Fraction] = defaultdict(Fraction)
        for line in day.lines:
            if line.kind is SaleKind.SALE and line.pos_code in standing.dishes:
                net[line.pos_code] += Fraction(line.quantity)
        for code in (code for code, quantity in net.items() if quantity):
            figures = costing.figures(("dish", code))
            earned = dish_figures(standing.dishes[code], standing.settings, figures.material, figures.labour,
                                  figures.known_material).gross_profit
            covers[code] += net[code]
            before = left[code]
            left[code] = None if before is None or earned is None else before + net[code] * earned
    sold = {code: dish for code, dish in by_code(found).items() if dish.covers}
    assert {code: dish.covers for code, dish in sold.items()} == {
        code: quantity for code, quantity in covers.items() if quantity > 0}
    assert {code: dish.total_contribution for code, dish in sold.items()} == {code: left[code] for code in sold}
    on_menu = {code for day in days for code in kitchen.on(day.business_date).dishes}
    assert {*by_code(found), *found.not_counted} == on_menu


def test_a_dish_that_nobody_bought_counts_in_the_number_of_dishes() -> None:
    """Two dishes, 10 covers: the line is at 3.5; one would have it at 7."""
    matrix = menu_matrix(dishes_chosen(a_menu(), [a_sales_day(A_DAY, a_sale("1", "10"))]).dishes)
    bread, soup = matrix.dishes
    assert matrix.popularity_line == Fraction("3.5")
    assert (bread.sales.covers, bread.sales.contribution, bread.menu_class) == (0, Fraction("2.5"), "dog")
    assert (soup.sales.contribution, soup.menu_class) == (8, "star")


def test_a_dish_that_sales_cannot_show_or_that_has_no_price_is_not_counted_and_told() -> None:
    kitchen = a_menu(a_dish("off-till", menu_price="9"), a_dish("unpriced", pos_code="3"),
                     a_dish("twin-a", pos_code="7", menu_price="9"), a_dish("twin-b", pos_code="7", menu_price="9"))
    found = dishes_chosen(kitchen, [a_sales_day(A_DAY, a_sale("1", "10"), a_sale("7", "4"), a_sale("beer", "9"))])
    assert set(by_code(found)) == {"soup", "bread"}
    assert found.not_counted == {"off-till": "no_pos_code", "unpriced": "no_menu_price",
                                 "twin-a": "shared_pos_code", "twin-b": "shared_pos_code"}
    assert [(each.pos_code, each.bearers.resolved, each.covers) for each in found.codes] == [
        ("7", "shared", 4), ("beer", "unknown", 9)]
    assert [gap.code for gap in found.gaps] == ["pos_code_shared"]


def test_a_dish_of_unknown_cost_has_a_popularity_and_no_class() -> None:
    kitchen = a_menu(an_ingredient("saffron"), a_dish("risotto", a_line("ingredient saffron"), pos_code="3",
                                                      menu_price="18"))
    sold = [a_sale("1", "10"), a_sale("2", "30"), a_sale("3", "20")]
    matrix = menu_matrix(dishes_chosen(kitchen, [a_sales_day(A_DAY, *sold)]).dishes)
    risotto = matrix.dishes[1]
    assert (risotto.sales.covers, risotto.popular, risotto.contributing, risotto.menu_class) == (20, True, None, None)
    assert (matrix.covers, matrix.mean_contribution) == (60, Fraction(10 * 8 + 30 * Fraction("2.5")) / 40)
    assert [gap.code for gap in matrix.gaps] == ["no_price"]


def test_a_dish_sold_without_a_price_has_no_class_and_says_why() -> None:
    kitchen = a_menu(a_dish("staff-bread", a_line("ingredient flour", "0.1"), pos_code="3"))
    found = dishes_chosen(kitchen, [a_sales_day(A_DAY, a_sale("1", "10"), a_sale("3", "20"))])
    bread = menu_matrix(found.dishes).dishes[2]
    assert (bread.sales.code, bread.popular, bread.menu_class) == ("staff-bread", True, None)
    assert [(gap.code, gap.record) for gap in menu_matrix(found.dishes).gaps] == [("no_menu_price", "staff-bread")]


def test_a_section_lacks_nothing_for_a_code_that_dishes_of_others_share() -> None:
    """A code that no dish bears may be of any section, and is no gap."""
    kitchen = a_menu(*(a_dish(f"tart-{n}", a_line("ingredient flour", "0.1"), pos_code="9", section="pastry",
                              menu_price="6") for n in (1, 2)))
    days = [a_sales_day(A_DAY, a_sale("1", "10"), a_sale("9", "4"), a_sale("wine", "2"))]
    codes = {section: [code.pos_code for code in dishes_chosen(kitchen, days, section).codes]
             for section in (None, "starters", "pastry")}
    assert codes == {None: ["9", "wine"], "starters": ["wine"], "pastry": ["9", "wine"]}
    assert dishes_chosen(kitchen, days, "starters").gaps == ()


def test_what_was_taken_back_altogether_was_not_sold() -> None:
    days = [a_sales_day(A_DAY, a_sale("1", "2"), a_sale("2", "5")), a_sales_day(NEXT_DAY, a_sale("1", "-2"))]
    soup = by_code(dishes_chosen(a_menu(), days))["soup"]
    assert (soup.covers, soup.contribution) == (0, 8)


def test_a_contribution_is_weighted_by_the_covers_of_each_day() -> None:
    kitchen = a_menu(a_price("30", ingredient="shallot", effective_from=NEXT_DAY, made=Mark(2, 1)))
    days = [a_sales_day(A_DAY, a_sale("1", "30")), a_sales_day(NEXT_DAY, a_sale("1", "10"))]
    assert by_code(dishes_chosen(kitchen, days))["soup"].contribution == Fraction(30 * 8 + 10 * 7, 40)


def test_a_price_before_tax_is_that_of_each_day_s_tax_and_menu() -> None:
    """Soup at 12 with 20 % of tax; the day after with none; the day after that the menu says 15."""
    kitchen, third = a_menu(), NEXT_DAY + timedelta(days=1)
    soup = replace(kitchen.dishes["soup"][0].record, menu_price=Decimal(15))
    moved = replace(kitchen, settings=(*kitchen.settings, Version(
        some_settings(default_tax_rate_percent="0"), Mark(9, 1), NEXT_DAY)))
    moved = moved.with_version("dish", "soup", Version(soup, Mark(10, 1), third))
    days = [a_sales_day(day, a_sale("1", "4")) for day in (A_DAY, NEXT_DAY, third)]
    assert by_code(dishes_chosen(moved, days))["soup"].price == 4 * (10 + 12 + 15)


def test_a_dish_that_left_the_menu_unsold_stands_as_on_its_last_day() -> None:
    kitchen = a_menu(a_price("6", ingredient="flour", effective_from=NEXT_DAY, made=Mark(2, 1)))
    bread = kitchen.dishes["bread"][0].record
    kitchen = kitchen.with_version("dish", "bread", Version(bread, Mark(9, 1), NEXT_DAY, retired=True))
    days = [a_sales_day(day, a_sale("1", "4")) for day in (A_DAY, NEXT_DAY)]
    assert by_code(dishes_chosen(kitchen, days))["bread"].contribution == Fraction("2.5")
    assert set(by_code(dishes_chosen(kitchen, days[1:]))) == {"soup"}


def test_a_section_is_a_menu_of_its_own() -> None:
    days = [a_sales_day(A_DAY, a_sale("1", "10"), a_sale("2", "90"))]
    whole, starters = (menu_matrix(dishes_chosen(a_menu(), days, section).dishes) for section in (None, "starters"))
    assert [dish.menu_class for dish in whole.dishes] == ["plowhorse", "puzzle"]
    assert [(dish.sales.code, dish.menu_class) for dish in starters.dishes] == [("soup", "star")]


def test_menu_prices_that_exclude_tax_contribute_whole() -> None:
    kitchen = a_menu()
    without = replace(kitchen, settings=(replace(
        kitchen.settings[0], record=some_settings(menu_prices_include_tax=False)),))
    soup = by_code(dishes_chosen(without, [a_sales_day(A_DAY, a_sale("1", "1"))]))["soup"]
    assert soup.contribution == 10
