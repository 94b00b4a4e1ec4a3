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

from service.domain.denominators import (
    Floats,
    Whole,
    denominators_of,
    floats_of,
    numerators_of,
    of_product,
    of_sums,
)

UNIT = 2.0**-53
SLACK = 1 + 2.0**-20
MOST_ROUNDINGS = 2**20
PRICE_EXPONENT = 200
WIDEST_EXPONENT = 700


@dataclass(frozen=True)
class Shape:
    """Where the nodes stand in a sweep: level after level, each node's edges in one run of the edge arrays."""

    order: NDArray[np.intp]
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

    Shape:   arrays by position in the sweep. `own` has NaN for unknown, `own_known` the constant as if known;
             `roundings` is K of the bound, `negative` is n (both above).
    """

    shape: Shape
    levels: tuple[Level, ...]
    own: Floats
    own_known: Floats
    roundings: Floats
    negative: Floats
    in_range: bool
    exact: "ExactParts" = field(repr=False)

    @classmethod
    def of(cls, shape: Shape, factors: Sequence[Fraction], own: Sequence[Fraction],
           unknown: NDArray[np.bool_]) -> "Channel":
        """Compile one channel: its factors and constants, in the order of `shape`."""
        coefficients, constants = floats_of(factors), floats_of(own)
        in_range = bool((coefficients >= 0).all()) and _stays_in_range(shape, coefficients, constants)
        if not in_range:
            coefficients, constants = np.ones_like(coefficients), np.zeros_like(constants)
        levels = tuple(_level(shape, coefficients, low, high) for low, high in shape.bounds)
        roundings = _roundings(shape)
        in_range = in_range and float(roundings.max(initial=0)) < MOST_ROUNDINGS
        return cls(shape, levels, np.where(unknown, np.nan, constants), constants, roundings,
                   _swept(levels, np.maximum(-constants, 0.0)), in_range,
                   ExactParts(numerators_of(factors), denominators_of(factors), denominators_of(own)))

    def bound(self, values: Floats, at: slice | NDArray[np.intp] = slice(None)) -> Floats:
        """How far each value may be from the exact one; infinite where floats cannot be believed at all."""
        if not self.in_range:
            return np.full(values.shape, np.inf)
        bound: Floats = self.roundings[at] * (UNIT * SLACK) * (values + 2 * self.negative[at])
        return bound

    def denominators(self, of_prices: Whole) -> Whole:
        """For each node what the denominator of its value divides, given those of the prices."""
        shape, exact = self.shape, self.exact
        known = exact.own.copy()
        known[:shape.prices] = of_prices
        for low, high in shape.bounds:
            edges = shape.edges(low, high)
            terms = of_product(exact.numerators[edges], exact.denominators[edges], known[shape.children[edges]])
            starts = shape.starts[low:high] - edges.start
            known[low:high] = of_sums(known[low:high], terms, starts, shape.lengths[low:high])
        return known


@dataclass(frozen=True)
class ExactParts:
    """The integers that the floats come from: numerators and denominators of factors, denominators of constants."""

    numerators: Whole
    denominators: Whole
    own: Whole


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


def _row_most(shape: Shape, low: int, high: int, per_edge: Floats, empty: float) -> Floats:
    """The greatest of each node's edges; `empty` for a node without."""
    most = np.full(high - low, empty)
    filled = np.flatnonzero(shape.lengths[low:high])
    if filled.size:
        starts = shape.starts[low:high][filled] - shape.edges(low, high).start
        most[filled] = np.maximum.reduceat(per_edge, starts)
    return most


def _roundings(shape: Shape) -> Floats:
    """K of the bound: 3 for each node (its constant, the factor, the product) and one for each of its edges."""
    roundings = np.full(len(shape.order), 3.0)
    for low, high in shape.bounds:
        below = _row_most(shape, low, high, roundings[shape.children[shape.edges(low, high)]], 0.0)
        roundings[low:high] = below + shape.lengths[low:high] + 3
    return roundings


def _stays_in_range(shape: Shape, coefficients: Floats, constants: Floats) -> bool:
    """Whether no partial product on any way down leaves the exponents at which floats have all their digits."""
    if not (np.isfinite(coefficients).all() and np.isfinite(constants).all()):
        return False
    return all(_widest(shape, _exponents(coefficients, sign), _exponents(constants, sign)) < WIDEST_EXPONENT
               for sign in (1, -1))


def _exponents(values: Floats, sign: int) -> Floats:
    """Binary exponents, of the large (1) or the small (-1); nil is never the widest."""
    return np.where(values == 0, -np.inf, sign * np.frexp(values)[1].astype(np.float64))


def _widest(shape: Shape, edge_exponents: Floats, own_exponents: Floats) -> float:
    """The widest exponent (of one sign) of any partial sum of products, over all ways down, prices included."""
    reach = own_exponents.copy()
    reach[:shape.prices] = PRICE_EXPONENT
    for low, high in shape.bounds:
        edges = shape.edges(low, high)
        per_edge = edge_exponents[edges] + reach[shape.children[edges]]
        widened = _row_most(shape, low, high, per_edge, -np.inf) + np.log2(np.maximum(shape.lengths[low:high], 1)) + 1
        reach[low:high] = np.maximum(reach[low:high], widened)
    return float(reach.max(initial=0.0))
