"""Compiling: dependency order, units through own conversions; recosting what changed equals recosting everything."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.cascade import cascade
from service.domain.compile import compile_network, repriced
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from tests.builders import (
    A_DAY,
    a_conversion,
    a_dish,
    a_kitchen,
    a_line,
    a_price,
    a_recipe,
    a_topside_kitchen,
    an_ingredient,
)
from tests.kitchens import kitchens

some = settings(max_examples=40, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def material(kitchen: KitchenOnDay, key: Key) -> Fraction | None:
    return cascade(compile_network(kitchen)).material(key)


@some
@given(kitchens())
def test_a_child_always_stands_before_its_parents(kitchen: KitchenOnDay) -> None:
    network = compile_network(kitchen)
    assert all(edge.child < position for position, node in enumerate(network.nodes) for edge in node.edges)
    assert [network.index[node.key] for node in network.nodes] == list(range(len(network.nodes)))


@some
@given(kitchens(), st.randoms(use_true_random=False))
def test_the_order_of_lines_and_of_records_never_matters(kitchen: KitchenOnDay, shuffled: Any) -> None:
    def mixed(records: dict[str, Any]) -> dict[str, Any]:
        turned = [(code, replace(record, lines=tuple(shuffled.sample(record.lines, len(record.lines)))))
                  for code, record in records.items()]
        return dict(shuffled.sample(turned, len(turned)))

    other = replace(kitchen, recipes=mixed(dict(kitchen.recipes)), dishes=mixed(dict(kitchen.dishes)),
                    ingredients=dict(reversed(kitchen.ingredients.items())),
                    breakdowns=dict(reversed(kitchen.breakdowns.items())))
    before, after = cascade(compile_network(kitchen)), cascade(compile_network(other))
    for node in before.network.nodes:
        assert after.figures(node.key) == before.figures(node.key)


@some
@given(kitchens(), st.sampled_from([Decimal("0"), Decimal("1.08"), Decimal("7")]), st.integers(-8, 8))
def test_repricing_equals_compiling_anew(kitchen: KitchenOnDay, times: Decimal, days: int) -> None:
    prices = {code: tuple(replace(price, amount=price.amount * times, effective_from=price.effective_from
                                  + timedelta(days)) for price in prices[1:] + prices[:1])
              for code, prices in kitchen.prices.items()}
    changed = replace(kitchen, prices=prices)
    assert repriced(compile_network(kitchen), changed) == compile_network(changed)


@some
@given(kitchens())
def test_doubling_every_price_doubles_every_cost_without_a_fixed_part(kitchen: KitchenOnDay) -> None:
    """Packaging, credits and disposal are the fixed parts of material; they are taken out first."""
    plain = replace(kitchen, breakdowns={
        code: replace(breakdown, packaging_per_kg=Decimal(0), outputs=tuple(
            replace(output, credit_value=Decimal(0), disposal_cost=Decimal(0)) for output in breakdown.outputs))
        for code, breakdown in kitchen.breakdowns.items()})
    doubled = replace(plain, prices={code: tuple(replace(price, amount=price.amount * 2) for price in prices)
                                     for code, prices in plain.prices.items()})
    before, after = cascade(compile_network(plain)), cascade(compile_network(doubled))
    for node in before.network.nodes:
        single, double = before.figures(node.key), after.figures(node.key)
        assert double.material == (None if single.material is None else single.material * 2)
        assert double.labour == single.labour


@pytest.mark.parametrize(("quantity", "unit", "grams"), [
    ("500", "g", "500"), ("0.5", "kg", "500"), ("3", "each", "165"), ("1", "dozen", "660"), ("100", "ml", "103"),
    ("1", "us_cup", "243.685883595"), ("1", "lb", "453.59237")])
def test_a_line_converts_through_the_ingredients_own_conversions(quantity: str, unit: str, grams: str) -> None:
    """1 each = 0.055 kg, 1 l = 1.03 kg; the US cup and the pound as in NIST Handbook 44, appendix C."""
    egg = an_ingredient("egg", conversions=(a_conversion("each", "0.055", "kg"), a_conversion("l", "1.03", "kg")))
    omelette = a_dish("omelette", a_line("ingredient egg", quantity, unit))
    kitchen = a_kitchen(egg, a_price("1.00", ingredient="egg"), omelette)
    assert material(kitchen, ("dish", "omelette")) == Fraction(grams) / 1000


def test_a_thousand_pieces_may_be_weighed_together() -> None:
    """1000 each = 55 kg; bought by the dozen, used by the gram."""
    egg = an_ingredient("egg", base_unit="each", conversions=(a_conversion("each", "55", "kg", quantity="1000"),))
    kitchen = a_kitchen(egg, a_price("3.60", ingredient="egg", pack_unit="dozen"),
                        a_dish("omelette", a_line("ingredient egg", "165", "g")))
    assert material(kitchen, ("dish", "omelette")) == Fraction("0.90")


def test_a_recipe_made_in_litres_is_used_by_weight_through_its_own_conversion() -> None:
    """2 l of stock for 6.00 weigh 0.92 kg a litre: 460 g are half a litre, 1.50."""
    stock = a_recipe("stock", a_line("ingredient water", "2", "l"), makes_quantity="2",
                     conversions=(a_conversion("l", "0.92", "kg"),))
    water, price = an_ingredient("water", base_unit="l"), a_price("3.00", ingredient="water", pack_unit="l")
    kitchen = a_kitchen(water, price, stock,
                        a_dish("soup", a_line("recipe stock", "460", "g")))
    assert material(kitchen, ("dish", "soup")) == Fraction("1.50")


def test_each_of_a_cut_is_its_portion_weight() -> None:
    whole = a_topside_kitchen(a_dish("grilled-cap", a_line("cut topside-cap", "0.534", "kg")))
    breakdown = whole.breakdowns["topside-seamed"]
    portioned = replace(breakdown, outputs=tuple(
        replace(output, portion_weight_kg=Decimal("0.267")) for output in breakdown.outputs))
    by_piece = a_topside_kitchen(portioned, a_dish("grilled-cap", a_line("cut topside-cap", "2", "each")))
    assert material(by_piece, ("dish", "grilled-cap")) == material(whole, ("dish", "grilled-cap"))


def test_a_dish_divides_by_its_portions_and_allows_for_salt_and_oil_on_material_alone() -> None:
    dish = a_dish("grilled-cap", a_line("cut topside-cap", "800", "g", cooking_yield_percent="75"), portions="4",
                  allowance_percent="2", labour_minutes="10")
    costing = cascade(compile_network(a_topside_kitchen(dish)))
    kilograms = Fraction("0.8") / Fraction("0.75") / 4
    cap, portion = costing.figures(("cut", "topside-cap")), costing.figures(("dish", "grilled-cap"))
    assert portion.material == kilograms * cap.material * Fraction("1.02")
    assert portion.labour == kilograms * cap.labour + 1


def test_a_price_from_tomorrow_on_is_tomorrows() -> None:
    records = (an_ingredient("salt"), a_price("1.00", ingredient="salt"),
               a_price("2.00", ingredient="salt", effective_from=A_DAY + timedelta(1)))
    assert material(a_kitchen(*records), ("ingredient", "salt")) == 1
    assert material(a_kitchen(*records, day=A_DAY + timedelta(1)), ("ingredient", "salt")) == 2


def test_who_uses_a_loop_through_a_unit_that_has_no_conversion_is_told_of_both() -> None:
    """The line of the loop itself is compiled before its recipe has a place: what it lacks is not the whole of it."""
    stock = a_recipe("stock", a_line("recipe stock", "0.1", "kg"))
    costing = cascade(compile_network(a_kitchen(stock, a_dish("soup", a_line("recipe stock", "0.2", "kg")))))
    assert {gap.code for gap in costing.gaps(("dish", "soup"))} == {"loop", "missing_conversion"}
