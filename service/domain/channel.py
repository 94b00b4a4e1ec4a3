"""One channel (material or labour) of a network as sparse matrices, level by level, with a bound on its rounding.

    value = own + sum(factor x value of child)          one sparse product per level

The error bound, which is provable and costs nothing per sweep. Let u = 2**-53. A float sweep evaluates each figure as
a sum over all ways down of (factors x constant). Every such term meets on its way up: one rounding for its constant,
and per node passed one for the factor's own conversion to float, one for the product, and at most one per addition
(as many as the node has edges, and one for its own constant), in whatever order the terms are added. With K the most
that any way down meets, each term is off by at most (1 + u)**K - 1 of itself (Higham, Accuracy and Stability of
Numerical Algorithms, 2nd ed., 2002, section 3.1), so

    |float - exact| <= K u (1 + 2**-20) x (sum of the terms' magnitudes)           while K < 2**20

Factors are never negative; constants are only where by-products are credited to a pool. With n the sum of the
magnitudes of the negative terms, the sum of all magnitudes is value + 2 n, and n does not move with prices.

Rules that always hold: unknown is NaN, which the products carry up; nothing here over- or underflows (`in_range`),
else no float of the network is believed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import cast

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from service.domain.denominators import Floats, Whole, denominators_of, floats_of, numerators_of
from service.domain.float_range import Lines, Reach, reach_of, row_most, still_within
from service.domain.shape import Positions, Shape, Splice, T

UNIT = 2.0**-53
SLACK = 1 + 2.0**-20
MOST_ROUNDINGS = 2**20


@dataclass(frozen=True)
class Level:
    """Nodes `low` to before `high`, and the matrix that takes the values of all nodes to the sums of these."""

    low: int
    high: int
    matrix: "sparse.csr_array[np.float64]"

    def add_to(self, values: Floats) -> None:
        """Add to each node of the level its factors times the values of its children, in place."""
        values[self.low:self.high] += cast(Floats, self.matrix @ values)


@dataclass(frozen=True)
class Channel:
    """One channel of a network, compiled.

    Shape:   arrays by position in the sweep, but `coefficients`, which are by edge. `own` has NaN for unknown,
             `own_known` the constant as if known; `roundings` is K of the bound, `negative` is n (both above); `reach`
             is None where floats cannot be believed.
    """

    shape: Shape
    levels: tuple[Level, ...]
    coefficients: Floats
    own: Floats
    own_known: Floats
    roundings: Floats
    negative: Floats
    reach: Reach | None
    exact: "ExactParts" = field(repr=False)

    @classmethod
    def of(cls, shape: Shape, factors: Sequence[Fraction], own: Sequence[Fraction],
           unknown: NDArray[np.bool_]) -> "Channel":
        """Compile one channel: its factors and constants, in the order of `shape`."""
        coefficients, constants = floats_of(factors), floats_of(own)
        roundings = _roundings(shape)
        reach = None
        if (coefficients >= 0).all() and float(roundings.max(initial=0)) < MOST_ROUNDINGS:
            reach = reach_of(shape, coefficients, constants)
        if reach is None:
            coefficients, constants = np.ones_like(coefficients), np.zeros_like(constants)
        levels = tuple(_level(shape, coefficients, low, high) for low, high in shape.bounds)
        return cls(shape, levels, coefficients, np.where(unknown, np.nan, constants), constants, roundings,
                   _swept(levels, np.maximum(-constants, 0.0)), reach,
                   ExactParts(numerators_of(factors), denominators_of(factors), denominators_of(own)))

    def spliced(self, splice: Splice, factors: Sequence[Fraction], own: Sequence[Fraction],
                unknown: NDArray[np.bool_]) -> "Channel | None":
        """The channel with other factors and constants of the spliced nodes; None where it must be compiled whole.

        Exact:   every figure swept through it, and its bound, is that of the channel compiled whole.
        """
        coefficients, constants = floats_of(factors), floats_of(own)
        shape, at = splice.shape, splice.at
        if not self.holds((at, shape.lengths[at], shape.children[splice.new]), coefficients, constants):
            return None
        roundings = self.roundings if shape is self.shape else _roundings(shape)
        if float(roundings.max(initial=0)) >= MOST_ROUNDINGS:
            return None
        flat, own_known = splice.of(self.coefficients, coefficients), _with(self.own_known, at, constants)
        levels = tuple(_level(shape, flat, level.low, level.high) if splice.touches(level.low, level.high) else level
                       for level in self.levels)
        negative = self.negative
        if negative.any() or (constants < 0).any():
            negative = _swept(levels, np.maximum(-own_known, 0.0))
        return Channel(shape, levels, flat, _with(self.own, at, np.where(unknown, np.nan, constants)), own_known,
                       roundings, negative, self.reach, self.exact.spliced(splice, factors, own))

    def holds(self, lines: Lines, coefficients: Floats, constants: Floats) -> bool:
        """Whether floats are believed still where some nodes have other lines, factors and constants."""
        return self.reach is not None and not (coefficients < 0).any() and still_within(
            self.reach, lines, coefficients, constants)

    @property
    def in_range(self) -> bool:
        """Whether the floats of the network are believed at all."""
        return self.reach is not None

    def bound(self, values: Floats, at: slice | NDArray[np.intp] = slice(None)) -> Floats:
        """How far each value may be from the exact one; infinite where floats cannot be believed at all."""
        if not self.in_range:
            return np.full(values.shape, np.inf)
        bound: Floats = self.roundings[at] * (UNIT * SLACK) * (values + 2 * self.negative[at])
        return bound


@dataclass(frozen=True)
class ExactParts:
    """The integers that the floats come from: numerators and denominators of factors, denominators of constants."""

    numerators: Whole
    denominators: Whole
    own: Whole

    def spliced(self, splice: Splice, factors: Sequence[Fraction], own: Sequence[Fraction]) -> "ExactParts":
        """The integers with those of the spliced nodes."""
        return ExactParts(splice.of(self.numerators, numerators_of(factors)),
                          splice.of(self.denominators, denominators_of(factors)),
                          _with(self.own, splice.at, denominators_of(own)))


def _with(values: NDArray[T], at: Positions, others: NDArray[T]) -> NDArray[T]:
    after = values.copy()
    after[at] = others
    return after


def _level(shape: Shape, coefficients: Floats, low: int, high: int) -> Level:
    edges = shape.edges(low, high)
    pointers = np.append(shape.starts[low:high] - edges.start, edges.stop - edges.start)
    matrix: sparse.csr_array[np.float64] = sparse.csr_array(
        (coefficients[edges], shape.children[edges].astype(np.int32), pointers.astype(np.int32)),
        shape=(high - low, len(shape.order)))
    return Level(low, high, matrix)


def _swept(levels: tuple[Level, ...], values: Floats) -> Floats:
    for level in levels:
        level.add_to(values)
    return values


def _roundings(shape: Shape) -> Floats:
    """K of the bound: 3 for each node (its constant, the factor, the product) and one for each of its edges."""
    roundings = np.full(len(shape.order), 3.0)
    for low, high in shape.bounds:
        edges, lengths = shape.edges(low, high), shape.lengths[low:high]
        below = row_most(shape.starts[low:high] - edges.start, lengths, roundings[shape.children[edges]], 0.0)
        roundings[low:high] = below + lengths + 3
    return roundings
