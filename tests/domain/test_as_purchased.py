"""As purchased and edible portion, against tables of what is left after trimming and cooking."""

from fractions import Fraction

import pytest

from service.domain.as_purchased import as_purchased, kept_of
from tests.builders import a_line


def test_losses_multiply_they_do_not_add() -> None:
    """0.80 after trimming x 0.75 after cooking = 0.60, so that 0.6 kg on the plate is a kg bought."""
    line = a_line("ingredient beef", "0.6", yield_percent="80", cooking_yield_percent="75")
    assert kept_of(line.yield_percent, line.cooking_yield_percent) == Fraction("0.60")
    assert as_purchased(line) == 1


@pytest.mark.parametrize(("raw", "cooked", "percent"), [
    ("381", "277", "72.70"), ("492", "347", "70.53"), ("290", "185", "63.79"), ("436", "346", "79.36")])
def test_meat_on_the_plate_asks_for_its_raw_weight(raw: str, cooked: str, percent: str) -> None:
    """USDA ARS, National Nutrient Database for Standard Reference, release 28, 2015, WEIGHT: grams raw and cooked."""
    line = a_line("ingredient beef", cooked, "g", cooking_yield_percent=percent)
    assert abs(as_purchased(line) - Fraction(raw)) < Fraction("0.05")


@pytest.mark.parametrize(("refuse", "peeled", "bought"), [
    ("10", "900", "1000"), ("25", "750", "1000"), ("39", "610", "1000")])
def test_vegetables_are_bought_with_their_refuse(refuse: str, peeled: str, bought: str) -> None:
    """The same source: refuse of onions 10 %, potatoes 25 %, broccoli 39 %."""
    line = a_line("ingredient vegetable", peeled, "g", yield_percent=str(100 - int(refuse)))
    assert as_purchased(line) == Fraction(bought)


def test_rice_weighs_more_than_was_bought() -> None:
    assert as_purchased(a_line("ingredient rice", "750", "g", cooking_yield_percent="300")) == 250
