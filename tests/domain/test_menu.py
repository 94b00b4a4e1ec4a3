"""The menu: tax, targets, margins, against published sheets."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.kitchen_settings import SectionTarget
from service.domain.menu import DishFigures, dish_figures, target_of
from tests.builders import a_dish, some_settings

NIL = Fraction(0)


def margin(food_cost: str | Fraction | None, settings: Any = None, labour: Fraction | None = NIL,
           **facts: Any) -> DishFigures:
    cost = None if food_cost is None else Fraction(food_cost)
    return dish_figures(a_dish("grilled-cap", **facts), settings or some_settings(), cost, labour, cost or NIL)


def test_the_grilled_cap_of_the_documentation_comes_out_to_the_digit() -> None:
    """0.8 kg of cap at 15.4037 a kg keeps 75 % in cooking, serves 4, with 2 % for salt and oil; steps of 0.05."""
    kilograms = Fraction("0.8") / Fraction("0.75") / 4
    food_cost, labour = kilograms * Fraction("15.4037") * Fraction("1.02"), kilograms * Fraction("1.3106")
    published = margin(food_cost, some_settings(price_step="0.05"), labour, menu_price="22.00",
                       target_food_cost_percent="30", pos_code="1042").as_published()
    assert published == {
        "dish": "grilled-cap", "name": "grilled-cap", "pos_code": "1042", "currency": "GBP", "status": "complete",
        "food_cost": "4.1898", "known_food_cost": "4.1898", "labour_cost": "0.3495", "menu_price": "22.00",
        "tax_rate_percent": "20.00", "price_before_tax": "18.3333", "food_cost_percent": "22.85",
        "gross_profit": "14.1435", "gross_profit_percent": "77.15", "target_food_cost_percent": "30.00",
        "target_basis": "dish", "target_menu_price": "16.80", "within_target": True}


@pytest.mark.parametrize(("rate", "price", "fraction", "tax"), [
    ("20", "120", "1/6", "20"), ("5", "105", "1/21", "5"), ("17.5", "117.50", "7/47", "17.50")])
def test_tax_within_a_price_is_the_published_fraction_of_it(rate: str, price: str, fraction: str, tax: str) -> None:
    """HM Revenue & Customs, VAT fractions: 1/6 at 20 %, 1/21 at 5 %, 7/47 at 17.5 %."""
    figures = margin("1", menu_price=price, tax_rate_percent=rate)
    assert figures.price_before_tax is not None
    assert Fraction(price) - figures.price_before_tax == Fraction(price) * Fraction(fraction) == Fraction(tax)


def test_a_price_for_a_food_cost_is_computed_in_one_step() -> None:
    """Textbook supplement, table 17.6: 36.00 for 24 portions is 1.50; at 35 % 4.2857, not 2.9 x 1.50 = 4.35."""
    figures = margin(Fraction(36) / 24, some_settings(default_tax_rate_percent="0", price_step="0.0001"),
                     target_food_cost_percent="35")
    assert figures.target_menu_price == Fraction("4.2858")
    assert Fraction("4.2857") < Fraction(36) / 24 / Fraction("0.35") < figures.target_menu_price


def test_a_menu_of_eight_dishes_earns_what_the_exercise_says() -> None:
    """Method of Kasavana & Smith, Menu Engineering, 1982; data of a textbook exercise, results computed."""
    rows = [(73, "6.50", "18.90"), (90, "3.90", "12.75"), (55, "7.00", "20.35"), (92, "5.90", "18.50"),
            (85, "4.50", "15.65"), (92, "3.00", "12.00"), (77, "6.70", "18.50"), (65, "6.50", "18.75")]
    untaxed = some_settings(default_tax_rate_percent="0")
    sold = [(covers, margin(cost, untaxed, menu_price=price)) for covers, cost, price in rows]
    contribution = sum(covers * (figures.gross_profit or NIL) for covers, figures in sold)
    assert contribution == Fraction("7075.75")
    assert round(float(contribution / 629), 6) == 11.249205
    cost = sum(covers * (figures.food_cost or NIL) for covers, figures in sold)
    assert round(float(100 * cost / (contribution + cost)), 4) == 32.1333


SECTIONS = some_settings(default_tax_rate_percent="0", price_step="0.01", section_targets=(
    SectionTarget("grill", Decimal("35")), SectionTarget("desserts", Decimal("22.5"))))


@pytest.mark.parametrize(("facts", "target", "basis", "price", "within"), [
    ({"section": "grill"}, "35.00", "section", "9.15", True),
    ({"section": "desserts"}, "22.50", "section", "14.23", False),
    ({"section": "desserts", "target_food_cost_percent": "32"}, "32.00", "dish", "10.00", True),
    ({"section": "Grill"}, "30.00", "house", "10.67", False), ({}, "30.00", "house", "10.67", False)])
def test_a_dish_without_a_target_of_its_own_is_held_to_its_section_s_and_else_to_the_house_s(
        facts: dict[str, Any], target: str, basis: str, price: str, within: bool) -> None:
    """3.20 at a menu price of 10.00 is 32 %; the price in whole cents at which 3.20 is within the target."""
    figures = margin("3.20", SECTIONS, menu_price="10", **facts)
    told = figures.as_published()
    assert (told["food_cost_percent"], told["target_food_cost_percent"], told["target_basis"]) == (
        "32.00", target, basis)
    assert (told["target_menu_price"], told["within_target"]) == (price, within)
    assert target_of(figures.dish, SECTIONS) == Fraction(target) / 100
    cent_less = Fraction(price) - Fraction("0.01")
    assert Fraction("3.20") / Fraction(price) <= Fraction(target) / 100 < Fraction("3.20") / cent_less


@pytest.mark.parametrize(("food_cost", "within"), [
    ("3.0004", True), ("3.000499", True), ("3.0005", False), ("3", True)])
def test_a_percent_is_held_against_its_target_as_published(food_cost: str, within: bool) -> None:
    """30.004 % against 30 % is within; 30.005 % is published as 30.01 %."""
    assert margin(food_cost, some_settings(default_tax_rate_percent="0"), menu_price="10").within_target is within


def test_a_menu_price_of_zero_has_no_percentages_and_is_found() -> None:
    figures = margin("2", menu_price="0")
    published = figures.as_published()
    assert [(finding.code, finding.kind, finding.record) for finding in figures.findings] == [
        ("zero_menu_price", "dish", figures.dish.code)]
    assert figures.findings[0].detail.startswith("grilled-cap has ")
    assert (published["price_before_tax"], published["gross_profit"]) == ("0.0000", "-2.0000")
    assert published["food_cost_percent"] is published["gross_profit_percent"] is published["within_target"] is None
    assert published["status"] == "complete"


@pytest.mark.parametrize("price", [None, "22", "0.01"])
def test_no_other_menu_price_is_found(price: str | None) -> None:
    assert margin("2", menu_price=price).findings == ()


def test_no_price_meets_a_target_of_nothing() -> None:
    figures = margin("3", target_food_cost_percent="0", menu_price="22")
    assert (figures.target_menu_price, figures.within_target) == (None, False)


def test_a_dish_without_a_menu_price_has_costs_and_a_target_and_is_complete() -> None:
    published = margin("3").as_published()
    assert (published["food_cost"], published["target_menu_price"], published["status"]) == (
        "3.0000", "12.00", "complete")
    assert published["menu_price"] is published["price_before_tax"] is published["food_cost_percent"] is None


def test_an_unknown_food_cost_is_no_number_anywhere_above_it() -> None:
    figures = dish_figures(a_dish("grilled-cap", menu_price="22"), some_settings(), None, NIL, Fraction("1.25"))
    published = figures.as_published()
    assert (published["known_food_cost"], published["price_before_tax"], published["status"]) == (
        "1.2500", "18.3333", "incomplete")
    assert [published[name] for name in (
        "food_cost", "food_cost_percent", "gross_profit", "gross_profit_percent", "target_menu_price",
        "within_target")] == [None] * 6


def test_without_a_labour_cost_the_margins_stand_and_the_figures_are_incomplete() -> None:
    published = margin("3", labour=None, menu_price="12").as_published()
    assert (published["labour_cost"], published["food_cost_percent"], published["status"]) == (
        None, "30.00", "incomplete")


def test_menu_prices_that_exclude_tax_are_the_price_and_the_target_before_tax() -> None:
    settings = some_settings(menu_prices_include_tax=False)
    published = margin("3", settings, menu_price="12").as_published()
    assert (published["price_before_tax"], published["target_menu_price"]) == ("12.0000", "10.00")


@pytest.mark.parametrize(("currency", "price"), [("JPY", "1334"), ("GBP", "1333.34"), ("KWD", "1333.334")])
def test_a_target_price_goes_up_to_the_currencys_minor_unit(currency: str, price: str) -> None:
    """ISO 4217: the yen has no minor unit, the Kuwaiti dinar three decimals."""
    settings = some_settings(currency=currency, default_tax_rate_percent="0")
    assert margin("400", settings).as_published()["target_menu_price"] == price


@given(st.fractions(0, 50, max_denominator=10**9), st.sampled_from(["0.01", "0.05", "0.50", "1"]),
       st.sampled_from(["30", "28.5", "33.333333"]), st.booleans())
def test_the_target_price_meets_the_target_and_one_step_less_does_not(
    cost: Fraction, step: str, target: str, included: bool
) -> None:
    settings = some_settings(price_step=step, menu_prices_include_tax=included)
    price = margin(cost, settings, target_food_cost_percent=target).target_menu_price
    assert price is not None
    assert (price / Fraction(step)).denominator == 1
    tax = Fraction("1.2") if included else 1
    assert cost <= price / tax * Fraction(target) / 100
    assert cost == 0 or cost > (price - Fraction(step)) / tax * Fraction(target) / 100


@given(st.fractions(0, 50, max_denominator=10**9), st.decimals("0.01", "99", places=2))
def test_food_cost_and_gross_profit_are_the_whole_price(cost: Fraction, price: Decimal) -> None:
    figures = margin(cost, menu_price=price)
    assert figures.food_cost_percent + figures.gross_profit_percent == 100
    assert cost + figures.gross_profit == figures.price_before_tax
