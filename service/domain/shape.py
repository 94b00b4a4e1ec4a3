"""The shape of a sweep: where every node stands, level after level, and where its edges are in the edge arrays.

Rules that always hold: ingredients stand first and dishes last, each in the network's order; whatever a node uses
stands in a level below its own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from service.domain.denominators import Whole
from service.domain.network import Edge, Network

T = TypeVar("T", np.float64, np.int64)
Positions = NDArray[np.intp]


@dataclass(frozen=True)
class Shape:
    """Where the nodes stand in a sweep: level after level, each node's edges in one run of the edge arrays."""

    order: Positions
    bounds: tuple[tuple[int, int], ...]
    starts: Whole
    lengths: Whole
    children: Whole
    prices: int

    def edges(self, low: int, high: int) -> slice:
        """The run of edges of the nodes from `low` to before `high`."""
        if high == low:
            return slice(0, 0)
        return slice(int(self.starts[low]), int(self.starts[high - 1] + self.lengths[high - 1]))

    def edges_of(self, at: Positions) -> Positions:
        """The edges of these nodes, one run after another."""
        lengths = self.lengths[at]
        ends = np.cumsum(lengths)
        edges: Positions = np.repeat(self.starts[at] - (ends - lengths), lengths)
        edges += np.arange(len(edges))
        return edges

    def level_of(self, position: int) -> int:
        """The level of a position, from 1; 0 of a price."""
        return sum(low <= position for low, _ in self.bounds)


def shape_of(network: Network) -> tuple[Shape, Positions]:
    """The shape of a network, and where each of its nodes stands in it."""
    nodes = network.nodes
    level = [0] * len(nodes)
    for index, node in enumerate(nodes):
        if node.kind != "ingredient":
            level[index] = 1 + max((level[edge.child] for edge in node.edges), default=0)
    top = 1 + max(level, default=0)
    levels = np.array([top if node.kind == "dish" else level[at] for at, node in enumerate(nodes)], dtype=np.int64)
    order = np.argsort(levels, kind="stable")
    positions = np.empty_like(order)
    positions[order] = np.arange(len(order))
    lengths = np.array([len(nodes[index].edges) for index in order], dtype=np.int64)
    children = np.array([positions[edge.child] for index in order for edge in nodes[index].edges], dtype=np.int64)
    edges = np.searchsorted(levels[order], np.arange(1, top + 2))
    bounds = tuple((low, high) for low, high in pairwise(edges.tolist()) if high > low)
    return Shape(order, bounds, np.cumsum(lengths) - lengths, lengths, children, int(edges[0])), positions


@dataclass(frozen=True)
class Splice:
    """Some nodes of a sweep with other edges, all nodes in their places.

    Shape:   `at` are their positions, in order; `kept` are the edges, before, of all other nodes; `new` and `old` are
             the edges, after, of these and of the others. `shape` is the very same where these use what they used.
    """

    shape: Shape
    at: Positions
    kept: Positions | None
    new: Positions
    old: Positions | None

    def of(self, values: NDArray[T], others: NDArray[T]) -> NDArray[T]:
        """Values per edge, with `others` for the edges of these nodes."""
        if self.kept is None or self.old is None:
            spliced = values.copy()
        else:
            spliced = np.empty(len(self.shape.children), dtype=values.dtype)
            spliced[self.old] = values[self.kept]
        spliced[self.new] = others
        return spliced

    def touches(self, low: int, high: int) -> bool:
        """Whether one of these nodes stands from `low` to before `high`."""
        return bool(((self.at >= low) & (self.at < high)).any())


def spliced(shape: Shape, positions: Positions, edges: Mapping[int, Sequence[Edge]]) -> Splice | None:
    """The shape once nodes have other edges: by position in the sweep, in the order of positions; none of a price.

    Shape:   None where a node would stand in another level.
    """
    at = np.array(list(edges), dtype=np.intp)
    lengths = np.array([len(own) for own in edges.values()], dtype=np.int64)
    children = positions[[edge.child for own in edges.values() for edge in own]].astype(np.int64)
    runs = shape.edges_of(at)
    if np.array_equal(lengths, shape.lengths[at]) and np.array_equal(children, shape.children[runs]):
        return Splice(shape, at, None, runs, None)
    if any(_other_level(shape, place, [int(positions[edge.child]) for edge in own]) for place, own in edges.items()):
        return None
    after = shape.lengths.copy()
    after[at] = lengths
    moved = replace(shape, lengths=after, starts=np.cumsum(after) - after,
                    children=np.empty(int(after.sum()), dtype=np.int64))
    new = moved.edges_of(at)
    splice = Splice(moved, at, _all_but(runs, len(shape.children)), new, _all_but(new, len(moved.children)))
    return replace(splice, shape=replace(moved, children=splice.of(shape.children, children)))


def _other_level(shape: Shape, position: int, children: list[int]) -> bool:
    """Whether a node that uses these stands in another level than before; dishes always stand in the last."""
    level = shape.level_of(position)
    return level < len(shape.bounds) and level != 1 + max(map(shape.level_of, children), default=0)


def _all_but(places: Positions, count: int) -> Positions:
    others = np.ones(count, dtype=np.bool_)
    others[places] = False
    return np.flatnonzero(others)
