"""Ingredient weights: what a dearer ingredient makes of a dish. Judge: the cascade, costed again at other prices."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.ingredient_weights import LineWeights, ingredient_weights, menu_weights
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key, Network
from tests.builders import a_dish, a_line, a_price, a_recipe, a_topside_kitchen, an_ingredient
from tests.kitchens import kitchens
from tests.strategies import amounts, networks

Prices = dict[str, Fraction]
slow = settings(max_examples=20, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def priced(network: Network, prices: Prices) -> Network:
    """The same lines at other prices; what is not named costs nothing, and nothing lacks a price."""
    nodes = tuple(replace(node, material=prices.get(node.code, Fraction(0)), material_gaps=())
                  if node.kind == "ingredient" else node for node in network.nodes)
    return replace(network, nodes=nodes)


def prices_of(network: Network) -> Prices:
    return {node.code: node.material for node in network.nodes if node.kind == "ingredient" and not node.material_gaps}


def of_kind(network: Network, kind: str) -> list[Key]:
    return [node.key for node in network.nodes if node.kind == kind]


def by_prices(network: Network, key: Key, prices: Prices) -> Fraction:
    return sum((weight * prices[code] for code, weight in ingredient_weights(network, key).items()), Fraction(0))


@given(networks())
def test_a_cost_is_the_sum_of_weights_and_unit_prices_and_what_no_price_moves(network: Network) -> None:
    costing, free = cascade(network), cascade(priced(network, {}))
    for node in network.nodes:
        cost, unmoved = costing.material(node.key), free.material(node.key)
        assert unmoved is not None
        if cost is not None:
            assert cost == by_prices(network, node.key, prices_of(network)) + unmoved


@given(networks(), st.data())
def test_what_prices_move_is_the_sum_of_weights_and_changes_to_the_last_digit(
    network: Network, data: st.DataObject
) -> None:
    before = {code: data.draw(amounts()) for _, code in of_kind(network, "ingredient")}
    after = {code: data.draw(amounts()) for code in before}
    old, new = cascade(priced(network, before)), cascade(priced(network, after))
    moved = {code: after[code] - before[code] for code in before}
    for node in network.nodes:
        cost, earlier = new.material(node.key), old.material(node.key)
        assert cost is not None
        assert earlier is not None
        assert cost - earlier == by_prices(network, node.key, moved)


@slow
@given(kitchens(), st.data())
def test_in_a_kitchen_dearer_goods_move_costs_by_weights_and_changes(
    kitchen: KitchenOnDay, data: st.DataObject
) -> None:
    network = compile_network(kitchen)
    known = prices_of(network)
    dearer = {code: price + data.draw(amounts()) for code, price in known.items()}
    old = cascade(network)
    new = cascade(replace(network, nodes=tuple(
        replace(node, material=dearer[node.code]) if node.kind == "ingredient" and node.code in dearer else node
        for node in network.nodes)))
    for node in network.nodes:
        cost, earlier = new.material(node.key), old.material(node.key)
        if earlier is not None:
            assert cost is not None
            assert cost - earlier == sum(weight * (dearer[code] - known[code])
                                         for code, weight in ingredient_weights(network, node.key).items())


@given(networks())
def test_from_below_and_from_above_the_weights_are_the_same(network: Network) -> None:
    weights = LineWeights(network)
    from_above = {code: ingredient_weights(network, (kind, code)) for kind, code in of_kind(network, "dish")}
    for _, ingredient in of_kind(network, "ingredient"):
        from_below = weights.in_dishes(ingredient)
        assert from_below == {dish: each[ingredient] for dish, each in from_above.items()
                              if ingredient in each}
        assert all(from_below.values())


@given(networks(), st.data())
def test_the_menu_s_weights_are_the_sums_over_its_dishes(network: Network, data: st.DataObject) -> None:
    dishes = [code for _, code in of_kind(network, "dish")]
    some = data.draw(st.sets(st.sampled_from(dishes)))
    for asked in (None, some):
        each = [ingredient_weights(network, ("dish", code)) for code in dishes if asked is None or code in asked]
        reached = sorted({ingredient for weights in each for ingredient in weights})
        assert menu_weights(network, asked) == {
            ingredient: (sum(weights.get(ingredient, Fraction(0)) for weights in each),
                         sum(ingredient in weights for weights in each)) for ingredient in reached}


def test_a_topside_weighs_in_a_dish_what_the_worked_sheet_says() -> None:
    """Worked by hand: a kg of cap carries 16 of 1.60 + 10.20 + 1.548 of its pool; 0.2 kg of it, 2 % on top."""
    network = compile_network(a_topside_kitchen(
        an_ingredient("wine", base_unit="l"), a_price("8.00", ingredient="wine", pack_unit="l"),
        a_recipe("jus", a_line("ingredient wine", "0.5", "l"), makes_quantity="2", makes_unit="l"),
        a_dish("grilled-cap", a_line("cut topside-cap", "200", "g"), a_line("recipe jus", "100", "ml"),
               a_line("ingredient wine", "10", "ml"), a_line("cut topside-fat", "50", "g"), allowance_percent="2")))
    scale = Fraction("1.02")
    assert ingredient_weights(network, ("dish", "grilled-cap")) == {
        "beef-topside": Fraction("0.2") * 16 / Fraction("13.348") * scale,
        "wine": (Fraction("0.1") * Fraction("0.25") + Fraction("0.01")) * scale}
    assert ingredient_weights(network, ("cut", "topside-fat")) == {}
    assert ingredient_weights(network, ("ingredient", "wine")) == {"wine": 1}


def test_what_is_not_in_the_network_has_no_weight() -> None:
    network = compile_network(a_topside_kitchen(an_ingredient("salt")))
    with pytest.raises(KeyError):
        ingredient_weights(network, ("dish", "salted-air"))
    assert LineWeights(network).in_dishes("salt") == {}
    assert LineWeights(network).in_dishes("pepper") == {}
    assert menu_weights(network) == {}
