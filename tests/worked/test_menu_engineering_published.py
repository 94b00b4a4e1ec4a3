"""The matrix of menu engineering against a published exercise, through the whole core: records, sales, costs of day."""

from decimal import Decimal
from fractions import Fraction

import pytest

from service.domain.dishes_chosen import dishes_chosen
from service.domain.menu_engineering import Matrix, menu_matrix
from service.domain.rounding import published
from service.domain.sales import SalesLine
from tests.builders import A_DAY, a_dish, a_kitchen, a_line, a_price, an_ingredient, some_settings
from tests.recorded import recorded
from tests.sold import a_comp, a_sale, a_sales_day, a_staff_meal
from tests.worked.sheets import sheet

SHEET = sheet("menu_engineering")
CODES = {each["item"]: str(place) for place, each in enumerate(SHEET["sold"], 1)}


def matrix_of(*sold: SalesLine) -> Matrix:
    """The exercise as a kitchen records it: each item is a kg of something at its cost, no tax, sold in two parts."""
    records = [record for each in SHEET["sold"] for record in (
        an_ingredient(each["item"]), a_price(each["cost"], ingredient=each["item"]),
        a_dish(each["item"], a_line(f"ingredient {each['item']}"), menu_price=each["price"],
               pos_code=CODES[each["item"]]))]
    kitchen = recorded(a_kitchen(*records, settings=some_settings(default_tax_rate_percent="0")))
    return menu_matrix(dishes_chosen(kitchen, [a_sales_day(A_DAY, *sold)]).dishes)


def exercise() -> list[SalesLine]:
    return [line for each in SHEET["sold"] for line in (
        a_sale(CODES[each["item"]], "40"), a_sale(CODES[each["item"]], str(int(each["covers"]) - 40)))]


def as_printed(figure: Fraction | None, printed: str) -> Decimal:
    assert figure is not None
    return published(figure, len(printed.partition(".")[2]))


def test_the_published_matrix_comes_out_exactly() -> None:
    matrix = matrix_of(*exercise())
    assert matrix.covers == Fraction(SHEET["covers"])
    assert matrix.contribution == Fraction(SHEET["contribution"])
    assert matrix.mean_contribution == Fraction(SHEET["contribution"]) / Fraction(SHEET["covers"])
    assert matrix.popularity_line == Fraction(SHEET["popularity_line"])
    assert matrix.popularity_line_percent == Fraction(SHEET["popularity_line_percent"])
    for figure in ("mean_contribution", "food_cost_percent"):
        assert as_printed(getattr(matrix, figure), SHEET[figure]) == Decimal(SHEET[figure])
    assert {dish.sales.code: dish.menu_class for dish in matrix.dishes} == {
        each["item"]: each["class"] for each in SHEET["sold"]}


def test_the_lamb_falls_just_short_of_the_line_and_one_more_portion_lifts_it() -> None:
    """At 56 of 630 the line is 55.125."""
    for more, popular in (([], False), ([a_sale(CODES["lamb-chops"], "1")], True)):
        lamb = next(dish for dish in matrix_of(*exercise(), *more).dishes if dish.sales.code == "lamb-chops")
        assert lamb.popular is popular


@pytest.mark.parametrize("given", [a_comp, a_staff_meal])
def test_what_is_given_away_makes_no_dish_popular(given: object) -> None:
    assert matrix_of(*exercise(), given(CODES["lamb-chops"], "40")) == matrix_of(*exercise())  # type: ignore[operator]
