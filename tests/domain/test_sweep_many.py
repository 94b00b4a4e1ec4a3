"""Many sets of prices at once publish what each does by itself, and what exact arithmetic does.

The outside judge is `fractions.Fraction` of the standard library, through the exact cascade and menu.
"""

from dataclasses import replace
from fractions import Fraction
from random import Random

import numpy as np
from hypothesis import given, settings

from service.domain.menu_terms import MenuTerms
from service.domain.network import Edge, Network, Node
from service.domain.published_menu import published_dishes
from service.domain.sweep import CompiledSweep, sweep
from service.domain.sweep_many import BLOCK, sweep_many
from service.domain.unit_prices import UnitPrices
from tests.domain.test_sweep import GAP, SEEDS, a_menu, exactly, price

Prices = list[Fraction | None]


def at_prices(network: Network, prices: Prices) -> Network:
    """The network with these prices of its ingredients, which stand first; None: no price."""
    priced = tuple(replace(node, material=paid or Fraction(0), material_gaps=() if paid is not None else (GAP,))
                   for node, paid in zip(network.nodes, prices, strict=False))
    return Network((*priced, *network.nodes[len(priced):]), network.index)


def some_prices(chance: Random, network: Network) -> Prices:
    goods = [node for node in network.nodes if node.kind == "ingredient"]
    return [None if chance.random() < 0.1 else price(chance) for _ in goods]


@settings(max_examples=30, deadline=None)
@given(SEEDS)
def test_each_of_many_sets_of_prices_publishes_what_exact_arithmetic_does(chance: Random) -> None:
    """Gaps, pools that fall below zero under some of the prices alone, prices that floats cannot hold."""
    network, dishes, kitchen = a_menu(chance)
    compiled = CompiledSweep.of(network)
    terms = MenuTerms.of(compiled, dishes, kitchen)
    sets = [some_prices(chance, network) for _ in range(4)]
    if chance.random() < 0.2:
        sets[1][0] = Fraction(10) ** chance.choice([400, -400])
    found = [published_dishes(figures, terms) for figures in sweep_many(compiled, map(UnitPrices.of, sets))]
    assert [one.rows() for one in found] == [exactly(at_prices(network, one), dishes, kitchen) for one in sets]


def test_more_sets_than_a_block_holds_come_in_their_order() -> None:
    nodes = (Node("ingredient", "beef", material=Fraction(14)), Node("dish", "roast", (Edge(0, Fraction(3, 10)),)))
    compiled = CompiledSweep.of(Network(nodes, {node.key: at for at, node in enumerate(nodes)}))
    sets = [UnitPrices.of([Fraction(cents, 100)]) for cents in range(1400, 1400 + 2 * BLOCK + 1)]
    found = list(sweep_many(compiled, iter(sets)))
    assert [figures.prices for figures in found] == sets
    assert all(np.array_equal(figures.material, sweep(compiled, prices).material)
               for figures, prices in zip(found, sets, strict=True))
