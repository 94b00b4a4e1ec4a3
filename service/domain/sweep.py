"""The sweep: the cost of every node of a network at once, after any prices have changed, as floats with proven bounds.

What is compiled once per network: the order by levels, one sparse matrix per level and channel, constants, the bound's
constants, denominators. What a change of prices costs: one pass over the material channel. Labour does not move with
prices, so it is swept once for each set of pools that have fallen below zero.

Rules that always hold: unknown is NaN; the sign of a pool is decided exactly; floats are never published as such
(`published_menu` settles every digit).
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from service.domain.channel import Channel
from service.domain.denominators import Floats
from service.domain.known_denominators import KnownDenominators
from service.domain.network import NIL, Network, Node
from service.domain.settle import ExactValues, Mask
from service.domain.shape import Shape, shape_of, spliced
from service.domain.unit_prices import UnitPrices

T = TypeVar("T")
COUNTS_WHOLLY = ("ingredient", "breakdown", "cut")


@dataclass(frozen=True)
class CompiledSweep:
    """A network, ready to be swept. Immutable but for what it remembers, which no answer shows.

    Shape:   `positions[index]` is where a node of the network stands in the sweep; prices stand first, dishes last;
             `could_fall` are the breakdowns, `pools` the positions, by level, of those that credits could take below
             zero.
    """

    network: Network
    shape: Shape
    positions: NDArray[np.intp]
    material: Channel
    labour: Channel
    prices: UnitPrices
    dishes: slice
    could_fall: Mask
    pools: tuple[NDArray[np.intp], ...]
    counts_wholly: Mask
    material_denominators: KnownDenominators = field(repr=False, compare=False)
    labour_denominators: KnownDenominators = field(repr=False, compare=False)
    _remembered: dict[str, tuple[object, object]] = field(default_factory=dict, repr=False, compare=False)

    @classmethod
    def of(cls, network: Network) -> "CompiledSweep":
        """Compile a network. Dishes are used by nothing, and ingredients use nothing."""
        shape, positions = shape_of(network)
        ordered = [network.nodes[index] for index in shape.order]
        material, labour = (Channel.of(shape, *parts) for parts in channel_parts(ordered))
        first_dish = sum(n.kind != "dish" for n in ordered)
        could_fall = np.array([n.kind == "breakdown" for n in ordered], dtype=np.bool_)
        return cls(network, shape, positions, material, labour,
                   UnitPrices.of([price_of(node) for node in ordered[:shape.prices]]),
                   slice(first_dish, len(ordered)), could_fall, _pools(shape, could_fall, material),
                   np.array([n.kind in COUNTS_WHOLLY for n in ordered], dtype=np.bool_),
                   KnownDenominators(material), KnownDenominators(labour))

    def spliced(self, network: Network, changed: Iterable[int]) -> "CompiledSweep":
        """The sweep of a network that differs in these nodes, by index; only those are compiled, where that will do.

        Exact:   what it publishes is what the network compiled whole does.
        """
        nodes, prices = network.nodes, self.prices_after(self.prices, network, changed)
        at = sorted(int(self.positions[index]) for index in changed if nodes[index].kind != "ingredient")
        if not at:
            return replace(self, network=network, prices=prices)
        ordered = {place: nodes[int(self.shape.order[place])] for place in at}
        splice = spliced(self.shape, self.positions, {place: node.edges for place, node in ordered.items()})
        if splice is None:
            return CompiledSweep.of(network)
        material, labour = (channel.spliced(splice, *parts) for channel, parts in zip(
            (self.material, self.labour), channel_parts(list(ordered.values())), strict=True))
        if material is None or labour is None:
            return CompiledSweep.of(network)
        return CompiledSweep(
            network, splice.shape, self.positions, material, labour, prices, self.dishes, self.could_fall,
            _pools(splice.shape, self.could_fall, material), self.counts_wholly,
            KnownDenominators(material), KnownDenominators(labour))

    def prices_of(self, network: Network) -> UnitPrices:
        """The prices of a network of the same ingredients."""
        return UnitPrices.of([price_of(network.nodes[index]) for index in self.shape.order[:self.shape.prices]])

    def prices_after(self, prices: UnitPrices, network: Network, changed: Iterable[int]) -> UnitPrices:
        """The prices of a network that differs in these nodes from the one that `prices` are of."""
        return self.prices_moved(prices, {index: network.nodes[index] for index in changed})

    def prices_moved(self, prices: UnitPrices, nodes: Mapping[int, Node]) -> UnitPrices:
        """The prices with those of these ingredients, by index; other nodes have none."""
        return prices.with_prices({int(self.positions[index]): price_of(node) for index, node in nodes.items()
                                   if node.kind == "ingredient"})

    def labour_without(self, below_zero: tuple[int, ...]) -> Floats:
        """Labour of all nodes, NaN above the pools at these positions."""
        return self.remembered("labour", below_zero, lambda: self._swept_labour(below_zero))

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

    @cached_property
    def known(self) -> tuple[Floats, ExactValues]:
        """What each node's material is at least, and what settles it."""
        return known_sweep(self)

    @property
    def labour(self) -> Floats:
        return self.compiled.labour_without(self.below_zero)

    def of_dishes(self) -> Floats:
        """The material of the dishes, in one run of memory."""
        return np.ascontiguousarray(self.material[self.compiled.dishes])

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
    exact = exact_material(compiled, prices)
    values = channel.own.copy()
    values[:compiled.shape.prices] = prices.values if in_range else np.where(np.isnan(prices.values), np.nan, 0.0)
    below_zero: list[int] = []
    for level, pools in zip(channel.levels, compiled.pools, strict=True):
        level.add_to(values)
        if pools.size:
            fallen = pools_below_zero(compiled, values, pools, in_range, exact)
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
    return values, exact_material(compiled, figures.prices, nil[compiled.positions])


def pools_below_zero(compiled: CompiledSweep, values: Floats, pools: NDArray[np.intp], in_range: bool,
                exact: ExactValues) -> NDArray[np.intp]:
    """The pools that are below zero, each decided by its bound or exactly; one that is unknown is not."""
    material = values[pools]
    bound = compiled.material.bound(material, pools) if in_range else np.full(material.shape, np.inf)
    below = material < -bound
    for place in np.flatnonzero(np.abs(material) <= bound):
        below[place] = exact(int(compiled.shape.order[pools[place]])) < 0
    fallen: NDArray[np.intp] = pools[below]
    return fallen


def exact_material(compiled: CompiledSweep, prices: UnitPrices, nil: Mask | None = None) -> ExactValues:
    """Exact material of single nodes at these prices."""
    nodes = compiled.network.nodes

    def own(index: int) -> Fraction:
        node = nodes[index]
        return prices.exact(int(compiled.positions[index])) if node.kind == "ingredient" else node.material

    return ExactValues(compiled.network, own, scaled=True, nil=nil)


def channel_parts(nodes: Sequence[Node]) -> Iterator[tuple[list[Fraction], list[Fraction], Mask]]:
    """Material and labour of nodes: factors, constants, and which are unknown. Prices are not constants."""
    yield ([edge.factor if node.material_scale == 1 else edge.factor * node.material_scale
            for node in nodes for edge in node.edges],
           [NIL if node.kind == "ingredient" else node.material for node in nodes],
           np.array([bool(node.material_gaps) for node in nodes], dtype=np.bool_))
    yield ([edge.factor for node in nodes for edge in node.edges], [node.labour for node in nodes],
           np.array([bool(node.labour_gaps) for node in nodes], dtype=np.bool_))


def price_of(ingredient: Node) -> Fraction | None:
    return None if ingredient.material_gaps else ingredient.material


def _pools(shape: Shape, breakdowns: Mask, material: Channel) -> tuple[NDArray[np.intp], ...]:
    """By level, the breakdowns that can come out below zero."""
    suspect = breakdowns & (material.negative > 0) if material.in_range else breakdowns
    return tuple(low + np.flatnonzero(suspect[low:high]) for low, high in shape.bounds)
