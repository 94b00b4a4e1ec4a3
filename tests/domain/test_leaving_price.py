"""The price at which a dish leaves its target. Judge: the published figures of the kitchen at that price and beside it,
costed anew as a scenario."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.ingredient_weights import LineWeights
from service.domain.kitchen import KitchenOnDay
from service.domain.leaving_price import LowestPrices, leaving_price
from service.domain.menu import DishFigures, dish_figures
from service.domain.rounding import published
from service.domain.scenario import NewPrice, kitchen_under
from tests.builders import (
    a_by_product,
    a_dish,
    a_kitchen,
    a_line,
    a_main,
    a_price,
    a_primal,
    a_seamed_topside,
    a_topside_kitchen,
)
from tests.kitchens import kitchens
from tests.recorded import recorded

STEP = Fraction(1, 10_000)
A_PLATE = a_dish("grilled-cap", a_line("cut topside-cap", "200", "g", cooking_yield_percent="75"), menu_price="22.00")
some = settings(max_examples=40, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def costs(kitchen: KitchenOnDay) -> Costing:
    return cascade(compile_network(kitchen))


def at_price(kitchen: KitchenOnDay, ingredient: str, price: Fraction) -> KitchenOnDay:
    """What the kitchen would be with that price recorded, per base unit, by the supplier that decides."""
    record = kitchen.ingredients[ingredient]
    supplier = record.preferred_supplier or next(iter(kitchen.prices[ingredient])).supplier
    supposed = NewPrice(ingredient, supplier, published(price, 4), Decimal(1), record.base_unit, kitchen.day,
                        kitchen.day)
    return kitchen_under(recorded(kitchen), [supposed]).on(kitchen.day)


def figures_at(kitchen: KitchenOnDay, dish: str, ingredient: str, price: Fraction) -> DishFigures:
    there = at_price(kitchen, ingredient, price)
    figures = costs(there).figures(("dish", dish))
    return dish_figures(there.dishes[dish], there.settings, figures.material, figures.labour, figures.known_material)


def leaving(kitchen: KitchenOnDay, dish: str, ingredient: str) -> Fraction | None:
    costing = costs(kitchen)
    material, unit_price = costing.material(("dish", dish)), costing.material(("ingredient", ingredient))
    assert material is not None
    assert unit_price is not None
    weight = LineWeights(costing.network).in_dishes(ingredient).get(dish, Fraction(0))
    lowest = LowestPrices(costing).in_dishes(ingredient).get(dish, Fraction(0))
    return leaving_price(kitchen.dishes[dish], kitchen.settings, material, weight, unit_price, lowest)


@some
@given(kitchens())
def test_at_the_leaving_price_a_dish_is_within_its_target_and_a_ten_thousandth_above_outside(
    kitchen: KitchenOnDay,
) -> None:
    costing = costs(kitchen)
    for dish, ingredient in [(dish, ingredient) for dish in kitchen.dishes for ingredient in kitchen.ingredients]:
        if None in (costing.material(("dish", dish)), costing.material(("ingredient", ingredient))):
            continue
        price = leaving(kitchen, dish, ingredient)
        if price is None:
            at_nothing, dear = (figures_at(kitchen, dish, ingredient, Fraction(at)).within_target for at in (0, 10**6))
            assert (at_nothing, dear) != (True, False), "a price in between would have decided"
        elif price < 10**11:
            assert figures_at(kitchen, dish, ingredient, price).within_target is True
            assert figures_at(kitchen, dish, ingredient, price + STEP).within_target is False
        lowest = LowestPrices(costing).in_dishes(ingredient).get(dish, Fraction(0))
        if lowest > STEP:
            in_steps = -(-lowest // STEP) * STEP
            assert figures_at(kitchen, dish, ingredient, in_steps).food_cost is not None
            assert figures_at(kitchen, dish, ingredient, in_steps - STEP).food_cost is None


def test_a_cap_may_cost_what_leaves_the_plate_within_thirty_percent() -> None:
    """At 14.20 a kg the pool is 14.128; the plate's 4/15 kg of cap carry 16 / 13.348 of it. A menu price of 22.00 holds
    18.3333 before tax, of which less than 30.005 % may be food."""
    kitchen = a_topside_kitchen(A_PLATE)
    per_unit = Fraction(4, 15) * 16 / Fraction("13.348")
    outside_from = Fraction("22") / Fraction("1.2") * Fraction("0.30005") / per_unit + Fraction("0.072")
    price = leaving(kitchen, "grilled-cap", "beef-topside")
    assert price is not None
    assert price < outside_from <= price + STEP


def test_a_dish_outside_is_told_the_lower_price_at_which_it_is_back() -> None:
    kitchen = a_topside_kitchen(a_dish("grilled-cap", *A_PLATE.lines, menu_price="15.00"))
    price = leaving(kitchen, "grilled-cap", "beef-topside")
    assert price is not None
    assert price < Fraction("14.20")
    assert figures_at(kitchen, "grilled-cap", "beef-topside", Fraction("14.20")).within_target is False
    assert figures_at(kitchen, "grilled-cap", "beef-topside", price).within_target is True


@pytest.mark.parametrize("menu_price", [None, "0"])
def test_no_price_decides_where_there_is_no_percentage(menu_price: str | None) -> None:
    kitchen = a_topside_kitchen(a_dish("grilled-cap", *A_PLATE.lines, menu_price=menu_price))
    assert leaving(kitchen, "grilled-cap", "beef-topside") is None


@pytest.mark.parametrize(("garnish", "leaves_at"), [("0.0049", Fraction(0)), ("0.0051", None)])
def test_a_dish_that_even_a_gift_would_not_mend_is_decided_by_no_price(
    garnish: str, leaves_at: Fraction | None
) -> None:
    """Of 10.00 before tax and a target of 0 %, less than 0.0005 may be food: a garnish of 0.00049 leaves room for a
    leaf at nothing (at 0.0001 a kg its 0.1 kg would make 0.0005 of it), one of 0.00051 for none."""
    plate = a_dish("salad", a_line("ingredient leaf", "0.1"), a_line("ingredient garnish", "0.1"), menu_price="10.00",
                   tax_rate_percent="0", target_food_cost_percent="0")
    kitchen = a_kitchen(a_primal("leaf"), a_price("3", ingredient="leaf"), a_primal("garnish"),
                        a_price(garnish, ingredient="garnish"), plate)
    assert leaving(kitchen, "salad", "leaf") == leaves_at


def test_a_by_product_at_its_credit_value_is_moved_by_no_price() -> None:
    kitchen = a_topside_kitchen(a_dish("dripping", a_line("cut topside-fat", "500", "g"), menu_price="4.00"))
    assert LineWeights(compile_network(kitchen)).in_dishes("beef-topside") == {}
    assert leaving(kitchen, "dripping", "beef-topside") is None


def test_a_price_so_low_that_credits_exceed_it_brings_no_dish_back() -> None:
    """The bones fetch 1.00 per kg of input: below that price the cap has no cost. The plate is outside already at
    1.00, for its garnish, and without a figure below."""
    bones = a_seamed_topside(a_main("topside-cap", "0.5", "16.00"), a_by_product("bones", "0.25", "4.00"))
    plate = a_dish("grilled-cap", a_line("cut topside-cap", "1"), a_line("ingredient truffle", "10", "g"),
                   menu_price="12.00")
    kitchen = a_kitchen(a_primal(), a_price(), a_primal("truffle"), a_price("900", ingredient="truffle"), bones, plate)
    assert LowestPrices(costs(kitchen)).in_dishes("beef-topside") == {"grilled-cap": 1}
    assert figures_at(kitchen, "grilled-cap", "beef-topside", Fraction("1")).within_target is False
    assert figures_at(kitchen, "grilled-cap", "beef-topside", Fraction("0.9999")).food_cost is None
    assert leaving(kitchen, "grilled-cap", "beef-topside") is None
