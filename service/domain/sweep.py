"""The sweep: the cost of every node of a network at once, after any prices have changed, as floats with proven bounds.

What is compiled once per network: the order by levels, one sparse matrix per level and channel, constants, the bound's
constants, denominators. What a change of prices costs: one pass over the material channel. Labour does not move with
prices, so it is swept once for each set of pools that have fallen below zero.

Rules that always hold: unknown is NaN; the sign of a pool is decided exactly; floats are never published as such
(`published_menu` settles every digit).
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from service.domain.channel import Channel, Shape
from service.domain.denominators import Floats, Whole
from service.domain.network import NIL, Network
from service.domain.settle import ExactValues, Mask
from service.domain.unit_prices import UnitPrices, covers, widened

T = TypeVar("T")
COUNTS_WHOLLY = ("ingredient", "breakdown", "cut")


@dataclass(frozen=True)
class CompiledSweep:
    """A network, ready to be swept. Immutable but for what it remembers, which no answer shows.

    Shape:   `positions[index]` is where a node of the network stands in the sweep; prices stand first, dishes last;
             `pools` are the positions, by level, of the breakdowns that credits could take below zero.
    """

    network: Network
    shape: Shape
    positions: NDArray[np.intp]
    material: Channel
    labour: Channel
    prices: UnitPrices
    dishes: slice
    pools: tuple[NDArray[np.intp], ...]
    counts_wholly: Mask
    _remembered: dict[str, tuple[object, object]] = field(default_factory=dict, repr=False, compare=False)

    @classmethod
    def of(cls, network: Network) -> "CompiledSweep":
        """Compile a network. Dishes are used by nothing, and ingredients use nothing."""
        nodes = network.nodes
        shape, positions = _shape(network)
        ordered = [nodes[index] for index in shape.order]
        plain = [edge.factor for node in ordered for edge in node.edges]
        scaled = [edge.factor if node.material_scale == 1 else edge.factor * node.material_scale
                  for node in ordered for edge in node.edges]
        ingredients = ordered[:shape.prices]
        material = Channel.of(shape, scaled, [NIL if n.kind == "ingredient" else n.material for n in ordered],
                              np.array([bool(n.material_gaps) for n in ordered], dtype=np.bool_))
        labour = Channel.of(shape, plain, [n.labour for n in ordered],
                            np.array([bool(n.labour_gaps) for n in ordered], dtype=np.bool_))
        first_dish = sum(n.kind != "dish" for n in ordered)
        return cls(network, shape, positions, material, labour,
                   UnitPrices.of([None if n.material_gaps else n.material for n in ingredients]),
                   slice(first_dish, len(ordered)), _pools(shape, [n.kind for n in ordered], material),
                   np.array([n.kind in COUNTS_WHOLLY for n in ordered], dtype=np.bool_))

    def denominators(self, prices: UnitPrices) -> Whole:
        """Denominators of the material of all nodes; found anew only when those of the prices are not covered."""
        (covered, found) = self._remembered.get("denominators", (None, None))
        if isinstance(covered, np.ndarray) and isinstance(found, np.ndarray):
            if covered is prices.denominators or covers(covered, prices.denominators):
                return found
            covered = widened(covered, prices.denominators)
        else:
            covered = prices.denominators
        found = self.material.denominators(covered)
        self._remembered["denominators"] = (covered, found)
        return found

    def labour_without(self, below_zero: tuple[int, ...]) -> Floats:
        """Labour of all nodes, NaN above the pools at these positions."""
        return self.remembered("labour", below_zero, lambda: self._swept_labour(below_zero))

    def labour_denominators(self) -> Whole:
        """Denominators of the labour of all nodes, which no price moves."""
        none = np.ones(self.shape.prices, dtype=np.int64)
        return self.remembered("labour denominators", (), lambda: self.labour.denominators(none))

    def _swept_labour(self, below_zero: tuple[int, ...]) -> Floats:
        values = self.labour.own.copy()
        values[list(below_zero)] = np.nan
        for level in self.labour.levels:
            level.add_to(values)
        return values

    def remembered(self, name: str, key: object, made: Callable[[], T]) -> T:
        """What was made last under this name for the same key (an equal tuple, or the very same array), or else made
        now. The key is kept, so that no other can take its place in memory."""
        (last_key, last) = self._remembered.get(name, (None, None))
        if last is not None and (last_key is key or (isinstance(key, tuple) and last_key == key)):
            return cast(T, last)
        found = made()
        self._remembered[name] = (key, found)
        return found


@dataclass(frozen=True)
class SweptFigures:
    """Every node's material at one set of prices, by position. `exact` settles single nodes (by index)."""

    compiled: CompiledSweep
    prices: UnitPrices
    material: Floats
    below_zero: tuple[int, ...]
    in_range: bool
    exact: ExactValues

    @property
    def labour(self) -> Floats:
        return self.compiled.labour_without(self.below_zero)

    def material_bound(self) -> Floats:
        """How far each material may be from the exact one."""
        if not self.in_range:
            return np.full(self.material.shape, np.inf)
        return self.compiled.material.bound(self.material)


def sweep(compiled: CompiledSweep, prices: UnitPrices | None = None) -> SweptFigures:
    """The material of every node at these prices (those of the network unless given)."""
    prices = compiled.prices if prices is None else prices
    channel = compiled.material
    in_range = channel.in_range and prices.in_range()
    exact = _exact_material(compiled, prices)
    values = channel.own.copy()
    values[:compiled.shape.prices] = prices.values if in_range else np.where(np.isnan(prices.values), np.nan, 0.0)
    below_zero: list[int] = []
    for level, pools in zip(channel.levels, compiled.pools, strict=True):
        level.add_to(values)
        if pools.size:
            fallen = _below_zero(compiled, values, pools, in_range, exact)
            values[fallen] = np.nan
            below_zero.extend(int(position) for position in fallen)
    return SweptFigures(compiled, prices, values, tuple(below_zero), in_range, exact)


def known_sweep(figures: SweptFigures) -> tuple[Floats, ExactValues]:
    """What each node's material is at least: what is unknown counts as nil, a cut wholly or not at all."""
    compiled, channel = figures.compiled, figures.compiled.material
    nil = np.isnan(figures.material) & compiled.counts_wholly
    values = channel.own_known.copy()
    values[:compiled.shape.prices] = np.nan_to_num(figures.prices.values) if figures.in_range else 0.0
    values[nil] = 0.0
    for level in channel.levels:
        level.add_to(values)
        values[level.low:level.high][nil[level.low:level.high]] = 0.0
    return values, _exact_material(compiled, figures.prices, nil[compiled.positions])


def _below_zero(compiled: CompiledSweep, values: Floats, pools: NDArray[np.intp], in_range: bool,
                exact: ExactValues) -> NDArray[np.intp]:
    """The pools that are below zero, each decided by its bound or exactly; one that is unknown is not."""
    material = values[pools]
    bound = compiled.material.bound(material, pools) if in_range else np.full(material.shape, np.inf)
    below = material < -bound
    for place in np.flatnonzero(np.abs(material) <= bound):
        below[place] = exact(int(compiled.shape.order[pools[place]])) < 0
    fallen: NDArray[np.intp] = pools[below]
    return fallen


def _exact_material(compiled: CompiledSweep, prices: UnitPrices, nil: Mask | None = None) -> ExactValues:
    nodes = compiled.network.nodes

    def own(index: int) -> Fraction:
        node = nodes[index]
        return prices.exact(int(compiled.positions[index])) if node.kind == "ingredient" else node.material

    return ExactValues(compiled.network, own, scaled=True, nil=nil)


def _shape(network: Network) -> tuple[Shape, NDArray[np.intp]]:
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


def _pools(shape: Shape, kinds: list[str], material: Channel) -> tuple[NDArray[np.intp], ...]:
    """By level, the breakdowns that can come out below zero."""
    suspect = np.array([kind == "breakdown" for kind in kinds], dtype=np.bool_)
    if material.in_range:
        suspect &= material.negative > 0
    return tuple(low + np.flatnonzero(suspect[low:high]) for low, high in shape.bounds)
