"""Units and conversions. Judges: the `pint` library with exact fractions, and a graph walk written here."""

from fractions import Fraction
from itertools import combinations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.errors import ConversionsDoNotFormATree, MissingConversion, UnknownUnit, WrongValue
from service.domain.quantity import (
    UNITS,
    Conversion,
    base_unit_of,
    check_conversions,
    convert,
    unit_named,
    unit_of_code,
)
from tests.builders import a_conversion

EGG = (a_conversion("each", "0.055", "kg"),)
OIL = (a_conversion("l", "0.92", "kg"),)
BOTTLED_OIL = (*OIL, a_conversion("each", "0.75", "l"))

PINT_NAMES = {
    "kg": "kilogram", "g": "gram", "lb": "pound", "oz": "ounce", "l": "liter", "ml": "milliliter",
    "us_gallon": "US_liquid_gallon", "us_quart": "US_liquid_quart", "us_pint": "US_pint", "us_cup": "cup",
    "us_fl_oz": "US_fluid_ounce", "us_tbsp": "tablespoon", "us_tsp": "teaspoon", "imp_gallon": "imperial_gallon",
    "imp_quart": "imperial_quart", "imp_pint": "imperial_pint", "imp_cup": "imperial_cup",
    "imp_fl_oz": "imperial_fluid_ounce",
}


@pytest.fixture(scope="module")
def judge() -> pint.UnitRegistry:
    return pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize("unit", PINT_NAMES)
def test_a_unit_is_as_many_base_units_as_pint_says(unit: str, judge: pint.UnitRegistry) -> None:
    base = {"kg": "kilogram", "l": "liter"}[base_unit_of(unit)]
    assert judge.Quantity(Fraction(1), PINT_NAMES[unit]).to(base).magnitude == UNITS[unit].factor


def test_every_unit_of_mass_and_volume_has_a_judge_but_the_metric_spoons_and_cup() -> None:
    judged = {*PINT_NAMES, "metric_cup", "metric_tbsp", "metric_tsp", "each", "dozen"}
    assert judged == set(UNITS)


def test_three_cups_and_two_fluid_ounces_differ() -> None:
    cups = {convert(Fraction(1), unit, "ml", ()) for unit in ("us_cup", "imp_cup", "metric_cup")}
    ounces = {convert(Fraction(1), unit, "ml", ()) for unit in ("us_fl_oz", "imp_fl_oz")}
    assert (len(cups), len(ounces)) == (3, 2)


@pytest.mark.parametrize("name", ["cup", "fl_oz", "pint", "KG", "", "kilo", " kg"])
def test_a_unit_is_never_guessed(name: str) -> None:
    with pytest.raises(UnknownUnit, match="us_cup") as refused:
        convert(Fraction(1), name, "kg", ())
    assert refused.value.more == {"unit": name}


def test_an_egg_is_weighed_by_its_own_conversion_both_ways() -> None:
    assert convert(Fraction(3), "each", "g", EGG) == 165
    assert convert(Fraction("0.165"), "kg", "each", EGG) == 3
    assert convert(Fraction(1), "dozen", "kg", EGG) == Fraction("0.66")


def test_a_thousand_shrimps_may_be_weighed_together() -> None:
    together = (a_conversion("each", "55", "kg", quantity="1000"),)
    assert convert(Fraction(3), "each", "g", together) == 165


def test_a_bottle_of_oil_weighs_what_two_conversions_say() -> None:
    assert convert(Fraction(2), "each", "kg", BOTTLED_OIL) == Fraction(2) * Fraction("0.75") * Fraction("0.92")
    assert convert(Fraction("1.38"), "kg", "each", BOTTLED_OIL) == 2


def test_a_conversion_may_be_told_in_any_units_of_the_two_kinds() -> None:
    flour = (a_conversion("us_cup", "120", "g"),)
    assert convert(Fraction(1), "us_cup", "g", flour) == 120
    assert convert(Fraction(16), "us_cup", "kg", flour) == convert(Fraction(1), "us_gallon", "kg", flour)


@pytest.mark.parametrize(("unit", "to_unit", "named"), [
    ("ml", "lb", "how many kg one l is"), ("each", "g", "how many kg one each is"),
    ("oz", "dozen", "how many each one kg is"),
])
def test_without_a_conversion_the_missing_one_is_named(unit: str, to_unit: str, named: str) -> None:
    with pytest.raises(MissingConversion, match=named) as refused:
        convert(Fraction(1), unit, to_unit, ())
    assert refused.value.more == {"unit": unit, "to_unit": to_unit}


def test_a_conversion_of_other_kinds_does_not_help() -> None:
    with pytest.raises(MissingConversion, match="how many l one each is"):
        convert(Fraction(1), "each", "l", EGG)


@pytest.mark.parametrize("conversions", [
    (a_conversion("lb", "0.5", "kg"),),
    (a_conversion("each", "0.055", "kg"), a_conversion("g", "0.02", "each")),
    (*BOTTLED_OIL, a_conversion("each", "0.7", "kg")),
])
def test_conversions_that_could_answer_twice_are_refused(conversions: tuple[Conversion, ...]) -> None:
    with pytest.raises(ConversionsDoNotFormATree):
        check_conversions(conversions)


@pytest.mark.parametrize("conversion", [
    a_conversion("each", "0", "kg"), a_conversion("each", "55", "kg", quantity="0"), a_conversion("each", "-1", "kg"),
])
def test_a_conversion_from_or_to_nothing_is_refused(conversion: Conversion) -> None:
    with pytest.raises(WrongValue, match="above zero"):
        check_conversions((conversion,))


def test_any_two_conversions_between_different_kinds_form_a_tree() -> None:
    three = (*BOTTLED_OIL, a_conversion("each", "0.7", "kg"))
    for pair in combinations(three, 2):
        check_conversions(pair)
        assert convert(Fraction(1), "l", "each", pair) * convert(Fraction(1), "each", "l", pair) == 1


@given(st.fractions(min_value=0), st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)))
def test_there_and_back_is_where_it_began(quantity: Fraction, unit: str, to_unit: str) -> None:
    assert convert(convert(quantity, unit, to_unit, BOTTLED_OIL), to_unit, unit, BOTTLED_OIL) == quantity


@given(st.tuples(*[st.sampled_from(sorted(UNITS))] * 3))
def test_going_round_by_a_third_unit_changes_nothing(units: tuple[str, str, str]) -> None:
    here, by, there = units
    round_about = convert(convert(Fraction(1), here, by, BOTTLED_OIL), by, there, BOTTLED_OIL)
    assert round_about == convert(Fraction(1), here, there, BOTTLED_OIL)


def test_codes_of_recommendation_20_name_one_unit_each() -> None:
    codes = [code for unit in UNITS.values() for code in unit.recommendation_20]
    assert len(codes) == len(set(codes))
    assert all(unit_of_code(code) is unit for unit in UNITS.values() for code in unit.recommendation_20)
    assert unit_of_code("XYZ") is None
    assert unit_of_code("PTN") is unit_named("each")
