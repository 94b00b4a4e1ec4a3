"""Ingredient weights: what one more unit of money per base unit of an ingredient makes of a cost above it.

The network is linear, so the weight of an ingredient in a node is one number, whatever the prices are:

    material(node) = sum over ingredients (weight x unit price) + what no price moves

Rules that always hold: weights are exact; they are those of the lines alone, also where a price or something else is
missing and the node has no figure; an ingredient that does not count in the node (a part that cannot be compiled, a cut
without a figure) is not among them. A child stands before its parents, so each pass walks the nodes once, in order.
"""

from collections.abc import Collection, Mapping
from fractions import Fraction
from heapq import heappop, heappush
from math import lcm

from service.domain.network import ONE, Key, Network

INGREDIENT, DISH = "ingredient", "dish"
Links = tuple[tuple[int, Fraction], ...]
_Sums = dict[int, int]


def ingredient_weights(network: Network, key: Key) -> dict[str, Fraction]:
    """The weight of every ingredient that counts in one node: a backward pass over what stands below it.

    Units:   money per unit of the node (of a dish: per portion), for one unit of money per base unit of the ingredient.
    Raises:  KeyError for a key that is not in the network.
    Example: 0.2 kg of a cut that carries 16 / 13.348 of its pool, of 4 portions, weigh 0.2 x 16 / 13.348 / 4.
    """
    nodes, top = network.nodes, network.index[key]
    weights: dict[int, Fraction] = {top: ONE}
    waiting = [-top]
    found: dict[str, Fraction] = {}
    while waiting:
        index = -heappop(waiting)
        node, weight = nodes[index], weights.pop(index)
        if node.kind == INGREDIENT:
            found[node.code] = weight
        weight *= node.material_scale
        for edge in node.edges:
            if edge.factor and weight:
                if edge.child not in weights:
                    heappush(waiting, -edge.child)
                    weights[edge.child] = edge.factor * weight
                else:
                    weights[edge.child] += edge.factor * weight
    return found


def menu_weights(network: Network, dishes: Collection[str] | None = None) -> dict[str, tuple[Fraction, int]]:
    """Of every ingredient that counts in a dish: the sum of its weights over the dishes, and how many dishes those are.

    One backward pass over the whole network, for all dishes or those named.

    Units:   money per portion of each dish, summed over dishes.
    """
    nodes = network.nodes
    sums: list[_Sums | None] = [None] * len(nodes)
    reached = [0] * len(nodes)
    found: dict[str, tuple[Fraction, int]] = {}
    place = 0
    for index in range(len(nodes) - 1, -1, -1):
        node = nodes[index]
        if node.kind == DISH and (dishes is None or node.code in dishes):
            sums[index] = {1: 1}
            reached[index] = 1 << place
            place += 1
        above = sums[index]
        if above is None:
            continue
        sums[index] = None
        weight, dishes_above = _whole(above), reached[index]
        reached[index] = 0
        if node.kind == INGREDIENT:
            found[node.code] = (weight, dishes_above.bit_count())
        weight *= node.material_scale
        for edge in node.edges:
            if edge.factor and weight:
                _add(sums, edge.child, edge.factor * weight)
                reached[edge.child] |= dishes_above
    return dict(sorted(found.items()))


class LineWeights:
    """What every ingredient weighs in each dish, by the lines of a network: one ingredient at a time, as it is asked.

    Prices do not come into it: the same for every network of the same lines.
    """

    def __init__(self, network: Network) -> None:
        self._network = network
        self._above: tuple[Links, ...] = ()
        self._found: dict[str, Mapping[str, Fraction]] = {}

    def in_dishes(self, ingredient: str) -> Mapping[str, Fraction]:
        """The weight of one ingredient in every dish that it counts in: a forward pass over what stands above it.

        Exact:   of every dish, that which `ingredient_weights` gives.
        """
        if ingredient not in self._found:
            above = self.in_all(ingredient)
            self._found[ingredient] = {code: weight for (kind, code), weight in above.items() if kind == DISH}
        return self._found[ingredient]

    def in_all(self, ingredient: str) -> dict[Key, Fraction]:
        """The weight of one ingredient in everything that it counts in, itself too, each per unit of it."""
        if not self._above:
            self._above = _links_upwards(self._network)
        nodes, start = self._network.nodes, self._network.index.get((INGREDIENT, ingredient))
        weights: dict[int, Fraction] = {} if start is None else {start: ONE}
        waiting = list(weights)
        found: dict[Key, Fraction] = {}
        while waiting:
            index = heappop(waiting)
            weight = found[nodes[index].key] = weights.pop(index)
            for parent, factor in self._above[index]:
                if parent not in weights:
                    heappush(waiting, parent)
                    weights[parent] = factor * weight
                else:
                    weights[parent] += factor * weight
        return found


def _links_upwards(network: Network) -> tuple[Links, ...]:
    """Of every node: the nodes that it stands directly below, in order, and how much of it counts in a unit of each."""
    above: list[list[tuple[int, Fraction]]] = [[] for _ in network.nodes]
    for index, node in enumerate(network.nodes):
        for edge in node.edges:
            if edge.factor:
                above[edge.child].append((index, edge.factor * node.material_scale))
    return tuple(map(tuple, above))


def _add(sums: list[_Sums | None], child: int, weight: Fraction) -> None:
    """Add to a child's sum, by denominator: most denominators of a menu come up again and again."""
    below = sums[child]
    if below is None:
        sums[child] = {weight.denominator: weight.numerator}
    else:
        below[weight.denominator] = below.get(weight.denominator, 0) + weight.numerator


def _whole(sums: Mapping[int, int]) -> Fraction:
    """The sum of fractions over their common denominator, reduced once."""
    common = lcm(*sums)
    return Fraction(sum(numerator * (common // denominator) for denominator, numerator in sums.items()), common)
