"""What stands above a change against exact arithmetic: random networks of odd fractions, gaps and pools below zero.

The outside judge is `fractions.Fraction` of the standard library, through the exact cascade and menu.
"""

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import Any

from hypothesis import given, settings

from service.domain.above import Above
from service.domain.dish import Dish
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu_terms import MenuTerms
from service.domain.network import Edge, Network, Node
from service.domain.published_above import MovedDishes, published_above
from service.domain.published_menu import published_dishes
from service.domain.sweep import CompiledSweep, sweep
from tests.domain.test_splice import moved
from tests.domain.test_sweep import SEEDS, a_menu, exactly, gaps, price


class Before:
    """A menu, compiled, swept and published."""

    def __init__(self, network: Network, dishes: Mapping[str, Dish], kitchen: KitchenSettings) -> None:
        self.network, self.dishes, self.kitchen = network, dishes, kitchen
        self.compiled = CompiledSweep.of(network)
        self.terms = MenuTerms.of(self.compiled, dishes, kitchen)
        self.swept = sweep(self.compiled)
        self.columns = published_dishes(self.swept, self.terms)

    def moved(self, network: Network, changed: set[int], *prices: Mapping[int, Node]) -> MovedDishes | None:
        """What is published above the changed nodes of that network."""
        above = Above.of(self.compiled, network, changed, self.network.standing_on(changed))
        return None if above is None else published_above(
            above, self.swept, self.columns, lambda rows, *bound: self.terms.at(rows, (), self.kitchen, *bound),
            prices or [{}])

    def rows(self, found: MovedDishes, step: int = 0) -> list[dict[str, Any]]:
        return found.among(self.columns, step).rows()


def with_nodes(network: Network, nodes: Mapping[int, Node]) -> Network:
    return Network(tuple(nodes.get(index, node) for index, node in enumerate(network.nodes)), network.index)


@settings(max_examples=50, deadline=None)
@given(SEEDS)
def test_dishes_above_any_change_publish_what_exact_arithmetic_does(chance: Random) -> None:
    network, dishes, kitchen = a_menu(chance)
    changed = set(chance.sample(range(len(network.nodes)), chance.randint(1, min(3, len(network.nodes)))))
    after = with_nodes(network, {index: moved(chance, network.nodes, index) for index in changed})
    before = Before(network, dishes, kitchen)

    found = before.moved(after, changed)

    if found is None:  # a recipe that uses what did not stand below it
        assert any(after.nodes[index].edges != network.nodes[index].edges for index in changed)
    else:
        assert before.rows(found) == exactly(after, dishes, kitchen)


@settings(max_examples=30, deadline=None)
@given(SEEDS)
def test_many_prices_at_once_publish_what_exact_arithmetic_does_at_each(chance: Random) -> None:
    network, dishes, kitchen = a_menu(chance)
    goods = [index for index, node in enumerate(network.nodes) if node.kind == "ingredient"]
    named = set(chance.sample(goods, chance.randint(1, len(goods))))
    sets = [{index: replace(network.nodes[index], material=price(chance), material_gaps=gaps(chance))
             for index in named} for _ in range(4)]
    before = Before(network, dishes, kitchen)

    found = before.moved(network, named, *sets)

    assert found is not None
    for step, prices in enumerate(sets):
        assert before.rows(found, step) == exactly(with_nodes(network, prices), dishes, kitchen)


def test_only_what_stands_above_the_change_is_worked_out() -> None:
    nodes = (Node("ingredient", "beef", material=Fraction(14)), Node("ingredient", "salt", material=Fraction(1)),
             Node("recipe", "stock", (Edge(0, Fraction(1, 2)),)), Node("dish", "broth", (Edge(1, Fraction(1, 100)),)),
             Node("dish", "soup", (Edge(2, Fraction(1, 4)), Edge(1, Fraction(1, 100)))))
    network = Network(nodes, {node.key: at for at, node in enumerate(nodes)})
    compiled = CompiledSweep.of(network)

    above = Above.of(compiled, network, {0}, network.standing_on({0}))

    assert above is not None
    assert [compiled.network.nodes[index].code for index in compiled.shape.order[above.rows]] == ["stock", "soup"]
    assert above.dishes().tolist() == [1]
