"""What stands above a change: the few nodes of a compiled sweep whose figures can move, and the lines below them.

A changed price or yield moves the dishes above it and nothing else. Sweeping those alone, from the figures that all
others had before, costs a hundredth of a sweep of the whole menu; a ramp sweeps them at all its steps at once.

Rules that always hold: every figure lies within the bound of `channel`, which is found anew where lines are others;
where that cannot be said (a node in another level, a factor out of the range that floats are believed in), there is no
`Above`, and all is compiled and swept whole.
"""

from collections.abc import Set
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.domain.channel import MOST_ROUNDINGS, Channel
from service.domain.denominators import Floats, Whole, denominators_of, floats_of, numerators_of, of_product, of_sums
from service.domain.network import Network, Node
from service.domain.settle import Mask
from service.domain.shape import Positions, T
from service.domain.sweep import CompiledSweep, channel_parts


class Level(NamedTuple):
    """The nodes of a level, `low` to before `high` of the local ones; of their edges, `first` to before `last`, where
    those of each node that has any start."""

    low: int
    high: int
    filled: Positions | slice
    starts: Whole
    first: int
    last: int


@dataclass(frozen=True)
class Above:
    """Nodes with all that they use: locally what they use and is not among them, then prices, then they.

    Shape:   `outside`, `prices` and `rows` are positions in the sweep, in order; `children` are local places;
             `anew` marks the rows that are other nodes than the sweep was compiled of.
    """

    compiled: CompiledSweep
    network: Network
    outside: Positions
    prices: Positions
    rows: Positions
    anew: Mask
    lengths: Whole
    children: Whole
    old: Positions
    is_new: Mask
    levels: tuple[Level, ...]

    @classmethod
    def of(cls, compiled: CompiledSweep, network: Network, changed: Set[int], standing: Set[int]) -> "Above | None":
        """What stands above these nodes, by index, of a network of the same keys; `standing` holds them, too."""
        at = np.sort(compiled.positions[list(standing)])
        split = int(np.searchsorted(at, compiled.shape.prices))
        prices, rows = at[:split], at[split:]
        others = np.sort(compiled.positions[list(changed)])
        others = others[np.searchsorted(others, compiled.shape.prices):]
        return _gathered(compiled, network, prices, rows, np.isin(rows, others, assume_unique=True))

    @property
    def own_from(self) -> int:
        """The local place of the first row."""
        return len(self.outside) + len(self.prices)

    def nodes_anew(self) -> list[Node]:
        """The nodes that are others than those compiled, in the order of the rows."""
        return [self.network.nodes[index] for index in self.compiled.shape.order[self.rows[self.anew]].tolist()]

    def dishes(self) -> Positions:
        """The rows of dishes, counted from the sweep's first dish: they are the last rows."""
        first = self.compiled.dishes.start
        dishes: Positions = self.rows[np.searchsorted(self.rows, first):] - first
        return dishes

    def lift(self, level: Level, coefficients: Floats, values: Floats) -> None:
        """Add to each node of a level its factors times the values of its children, in place."""
        if level.last > level.first:
            of_edges = coefficients[level.first:level.last]
            terms = values[self.children[level.first:level.last]] * (
                of_edges if values.ndim == 1 else of_edges[:, np.newaxis])
            values[level.low:level.high][level.filled] += np.add.reduceat(terms, level.starts)

    def swept(self, coefficients: Floats, values: Floats) -> Floats:
        """All levels lifted, in place."""
        for level in self.levels:
            self.lift(level, coefficients, values)
        return values


def _gathered(compiled: CompiledSweep, network: Network, prices: Positions, rows: Positions,
              anew: Mask) -> Above | None:
    shape = compiled.shape
    lengths = shape.lengths[rows]
    edges = [network.nodes[int(index)].edges for index in shape.order[rows[anew]]]
    lengths[anew] = [len(own) for own in edges]
    is_new = np.repeat(anew, lengths)
    old = shape.edges_of(rows[~anew])
    children = np.empty(len(is_new), dtype=np.int64)
    children[~is_new] = shape.children[old]
    children[is_new] = compiled.positions[[edge.child for own in edges for edge in own]]
    levels = _levels(compiled, rows, lengths, children)
    if levels is None:
        return None
    used = np.zeros(len(shape.order), dtype=np.bool_)
    used[children] = True
    used[prices] = used[rows] = False
    outside = np.flatnonzero(used)
    place = np.empty(len(shape.order), dtype=np.int64)
    for low, positions in ((0, outside), (len(outside), prices), (len(outside) + len(prices), rows)):
        place[positions] = np.arange(low, low + len(positions))
    first = len(outside) + len(prices)
    return Above(compiled, network, outside, prices, rows, anew, lengths, place[children], old, is_new,
                 tuple(level._replace(low=level.low + first, high=level.high + first) for level in levels))


def _levels(compiled: CompiledSweep, rows: Positions, lengths: Whole, children: Whole) -> list[Level] | None:
    """The rows by level; None where one uses what does not stand below its level."""
    levels = []
    ends = np.cumsum(lengths)
    for bottom, top in compiled.shape.bounds:
        low, high = np.searchsorted(rows, (bottom, top)).tolist()
        if low == high:
            continue
        first, last = int(ends[low - 1]) if low else 0, int(ends[high - 1])
        if last > first and int(children[first:last].max()) >= bottom:
            return None
        own = lengths[low:high]
        starts = ends[low:high] - own - first
        filled = slice(None) if own.all() else np.flatnonzero(own)
        levels.append(Level(low, high, filled, starts[filled], first, last))
    return levels


class Lines:
    """The factors and constants of one channel on the lines of an `Above`, and the constants of their bound.

    Shape:   `coefficients` by edge; `own`, `roundings` and `negative` by row; `holds`: whether floats are believed.
    """

    def __init__(self, above: Above, channel: Channel, place: int) -> None:
        self._above, self._channel, self._place = above, channel, place
        self.coefficients = self._of_edges(channel.coefficients)
        self.own, self.own_known = channel.own[above.rows], channel.own_known[above.rows]
        self.roundings, self.negative = channel.roundings[above.rows], channel.negative[above.rows]
        self.holds = channel.in_range
        if above.anew.any() and self.holds:
            self._put_anew()

    def denominators(self, outside: Whole, prices: Whole) -> Whole:
        """What the denominators of the rows divide, given those of what they use and of the prices."""
        above, exact = self._above, self._channel.exact
        factors, own, _ = self._parts()
        numerators = self._of_edges(exact.numerators, numerators_of(factors))
        denominators = self._of_edges(exact.denominators, denominators_of(factors))
        values = np.concatenate([outside, prices, exact.own[above.rows]])
        values[above.own_from:][above.anew] = denominators_of(own)
        for level in above.levels:
            at = slice(level.first, level.last)
            low, high = level.low - above.own_from, level.high - above.own_from
            lengths = above.lengths[low:high]
            terms = of_product(numerators[at], denominators[at], values[above.children[at]])
            values[level.low:level.high] = of_sums(values[level.low:level.high], terms, np.cumsum(lengths) - lengths,
                                                   lengths)
        return values[above.own_from:]

    def _parts(self) -> tuple[list[Fraction], list[Fraction], Mask]:
        return list(channel_parts(self._above.nodes_anew()))[self._place]

    def _of_edges(self, values: NDArray[T], anew: NDArray[T] | None = None) -> NDArray[T]:
        above = self._above
        found = np.empty(len(above.children), dtype=values.dtype)
        found[~above.is_new] = values[above.old]
        if anew is not None:
            found[above.is_new] = anew
        return found

    def _put_anew(self) -> None:
        above, channel = self._above, self._channel
        factors, own, unknown = self._parts()
        coefficients, constants = floats_of(factors), floats_of(own)
        places = np.concatenate([above.outside, above.prices, above.rows])
        lines = (above.rows[above.anew], above.lengths[above.anew], places[above.children[above.is_new]])
        self.coefficients[above.is_new] = coefficients
        self.own[above.anew], self.own_known[above.anew] = np.where(unknown, np.nan, constants), constants
        self._bounds(channel)
        self.holds = channel.holds(lines, coefficients, constants) and float(
            self.roundings.max(initial=0)) < MOST_ROUNDINGS

    def _bounds(self, channel: Channel) -> None:
        """K and n of every row."""
        above = self._above
        below = [above.outside, above.prices]
        values = np.concatenate([*(channel.negative[at] for at in below), np.maximum(-self.own_known, 0.0)])
        self.negative = above.swept(self.coefficients, values)[above.own_from:]
        most = np.concatenate([*(channel.roundings[at] for at in below), above.lengths + 3.0])
        for level in above.levels:
            if level.last > level.first:
                most[level.low:level.high][level.filled] += np.maximum.reduceat(
                    most[above.children[level.first:level.last]], level.starts)
        self.roundings = most[above.own_from:]
