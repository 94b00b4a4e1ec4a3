"""A sweep spliced in places against exact arithmetic: random networks of odd fractions, gaps and pools below zero.

The outside judge is `fractions.Fraction` of the standard library, through the exact cascade and menu.
"""

from dataclasses import replace
from fractions import Fraction
from random import Random

from hypothesis import given, settings

from service.domain.menu_terms import MenuTerms
from service.domain.network import Edge, Network, Node
from service.domain.published_menu import published_dishes
from service.domain.sweep import CompiledSweep, sweep
from tests.domain.test_sweep import SEEDS, a_menu, cents, edges, exactly, factor, gaps, price


def moved(chance: Random, nodes: tuple[Node, ...], index: int) -> Node:
    """The node with other facts: other factors of what it used, or other lines of what stands before it."""
    node = nodes[index]
    if node.kind == "ingredient":
        return replace(node, material=price(chance), material_gaps=gaps(chance))
    alike = tuple(Edge(edge.child, factor(chance)) for edge in node.edges)
    if node.kind == "breakdown":
        return replace(node, material=chance.choice((node.material, -price(chance), Fraction(0))), labour=cents(chance))
    if node.kind == "cut":
        return replace(node, edges=alike, labour=cents(chance))
    usable = [at for at in range(index) if nodes[at].kind != "breakdown"] if node.kind == "recipe" else [
        at for at, other in enumerate(nodes) if other.kind not in ("breakdown", "dish")]
    lines = alike if chance.random() < 0.5 else edges(chance, usable, 4)
    return replace(node, edges=lines, labour=cents(chance), material_gaps=gaps(chance), labour_gaps=gaps(chance))


@settings(max_examples=30, deadline=None)
@given(SEEDS)
def test_a_spliced_sweep_publishes_what_exact_arithmetic_does(chance: Random) -> None:
    network, dishes, kitchen = a_menu(chance)
    compiled = CompiledSweep.of(network)
    for _ in range(2):
        nodes = list(network.nodes)
        changed = sorted(chance.sample(range(len(nodes)), chance.randint(1, min(3, len(nodes)))))
        for index in changed:
            nodes[index] = moved(chance, tuple(nodes), index)
        network = Network(tuple(nodes), network.index)
        compiled = compiled.spliced(network, changed)
        terms = MenuTerms.of(compiled, dishes, kitchen)
        assert published_dishes(sweep(compiled), terms).rows() == exactly(network, dishes, kitchen)


def test_what_one_place_moves_is_spliced_and_not_compiled_whole() -> None:
    """Half the factor, in a plain network of two levels: the other level's matrix is the very same."""
    nodes = (Node("ingredient", "beef", material=Fraction(14)), Node("recipe", "stock", (Edge(0, Fraction(1, 2)),)),
             Node("dish", "soup", (Edge(1, Fraction(1, 4)),)))
    network = Network(nodes, {node.key: at for at, node in enumerate(nodes)})
    compiled = CompiledSweep.of(network)
    halved = Network((*nodes[:2], replace(nodes[2], edges=(Edge(1, Fraction(1, 8)),))), network.index)
    spliced = compiled.spliced(halved, [2])
    assert spliced.material.levels[0] is compiled.material.levels[0]
    assert sweep(spliced).material[-1] == sweep(compiled).material[-1] / 2


def test_a_factor_far_out_of_the_range_of_floats_is_compiled_whole_and_exact() -> None:
    nodes = (Node("ingredient", "salt", material=Fraction("0.15105")), Node("dish", "plate", (Edge(0, Fraction(1)),)))
    network = Network(nodes, {node.key: at for at, node in enumerate(nodes)})
    far = Fraction(10**400)
    other = Network((nodes[0], replace(nodes[1], edges=(Edge(0, far),))), network.index)
    compiled = CompiledSweep.of(network).spliced(other, [1])
    assert not sweep(compiled).in_range
    assert sweep(compiled).exact(1) == Fraction("0.15105") * far
