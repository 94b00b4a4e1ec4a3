"""As purchased and edible portion, against tables of what trimming and cooking leave; and what costs are per."""

from fractions import Fraction

import pytest

from service.domain.as_purchased import (
    as_purchased,
    kept_of,
    makers,
    measure_of_cut,
    measure_of_ingredient,
    measure_of_recipe,
    missing_conversion,
    units_in_measure,
)
from service.domain.network import Key
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_conversion,
    a_kitchen,
    a_line,
    a_loss,
    a_main,
    a_recipe,
    an_ingredient,
)


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


def test_costs_are_per_base_unit_and_a_line_converts_by_what_it_uses() -> None:
    """An egg of 55 g by the dozen; a cut in portions of 180 g; a sauce made by the ml, a litre of 1.1 kg."""
    egg = measure_of_ingredient(an_ingredient("egg", conversions=(a_conversion("each", "0.055", "kg"),)))
    cut = measure_of_cut(a_main("cap", "0.1", portion_weight_kg="0.18"))
    sauce = measure_of_recipe(a_recipe("sauce", makes_unit="ml", conversions=(a_conversion("l", "1.1", "kg"),)))
    assert (egg.unit, cut.unit, sauce.unit) == ("kg", "kg", "l")
    assert units_in_measure("dozen", egg) == Fraction("0.66")
    assert units_in_measure("each", cut) == Fraction("0.18")
    assert units_in_measure("kg", sauce) == Fraction(10, 11)


@pytest.mark.parametrize(("key", "unit", "to_unit", "between", "mend"), [
    (("ingredient", "egg"), "dozen", "g", ("each", "kg"), "say how many kg one each is"),
    (("cut", "cap"), "each", "kg", ("each", "kg"), "give it a portion_weight_kg"),
    (("cut", "cap"), "ml", "kg", ("l", "kg"), "say how many kg one l is"),
    (("recipe", "sauce"), "g", "ml", ("kg", "l"), "say how many l one kg is")])
def test_a_conversion_that_is_missing_is_told_once_a_pair_of_dimensions_with_its_mend(
        key: Key, unit: str, to_unit: str, between: tuple[str, str], mend: str) -> None:
    gap = missing_conversion(key, unit, to_unit)
    assert (gap.code, gap.kind, gap.record) == ("missing_conversion", *key)
    assert (gap.more["unit"], gap.more["to_unit"]) == between
    assert key[1] in gap.detail
    assert f"from {between[0]} to {between[1]}: {mend}" in gap.detail


def test_a_cut_is_made_by_the_first_breakdown_in_use_and_a_loss_by_none() -> None:
    cap, bones = a_main("cap", "0.1"), a_by_product("bones", "0.3")
    first = a_breakdown(cap, a_loss("drip", "0.1"), code="a-seamed")
    second = a_breakdown(cap, bones, code="b-seamed")
    spare = a_breakdown(a_main("whole", "0.9"), code="a-spare", in_use=False)
    assert makers(a_kitchen(second, spare, first)) == {"cap": (first, cap), "bones": (second, bones)}
