"""Whether floats keep all their digits on every way down a network: no partial product may leave their exponents.

Reach: of every node the widest binary exponent that any partial sum of products below it can have, prices included,
once for the large and once for the small. It is taken with some room per edge, so that a node whose factors change a
little still lies within it, and with it all that stands above.
"""

import numpy as np

from service.domain.denominators import Floats, Whole
from service.domain.shape import Positions, Shape

PRICE_EXPONENT = 200
WIDEST_EXPONENT = 700
ROOM = 2.0
SIGNS = (1, -1)
Reach = tuple[Floats, Floats]
Lines = tuple[Positions, Whole, Whole]
"""Where nodes stand, how many edges each has, and what those use, one node after another."""


def reach_of(shape: Shape, coefficients: Floats, constants: Floats) -> Reach | None:
    """The reach of every node; None where that is too wide, or something is not finite."""
    if not (np.isfinite(coefficients).all() and np.isfinite(constants).all()):
        return None
    large, small = (_widest(shape, _exponents(coefficients, sign), _exponents(constants, sign)) for sign in SIGNS)
    return (large, small) if max(large.max(initial=0.0), small.max(initial=0.0)) < WIDEST_EXPONENT else None


def still_within(reach: Reach, lines: Lines, coefficients: Floats, constants: Floats) -> bool:
    """Whether nodes with these lines, factors and constants lie within the reach that was found for them."""
    if not (np.isfinite(coefficients).all() and np.isfinite(constants).all()):
        return False
    at, lengths, children = lines
    starts = np.cumsum(lengths) - lengths
    return all(bool((np.maximum(
        _exponents(constants, sign),
        row_most(starts, lengths, _exponents(coefficients, sign) + found[children], -np.inf) + _sums(lengths),
    ) <= found[at]).all()) for sign, found in zip(SIGNS, reach, strict=True))


def row_most(starts: "np.ndarray", lengths: "np.ndarray", per_edge: Floats, empty: float) -> Floats:
    """The greatest of each node's edges; `empty` for a node without."""
    most = np.full(len(lengths), empty)
    filled = np.flatnonzero(lengths)
    if filled.size:
        most[filled] = np.maximum.reduceat(per_edge, starts[filled])
    return most


def _widest(shape: Shape, edge_exponents: Floats, own_exponents: Floats) -> Floats:
    reach = own_exponents + ROOM
    reach[:shape.prices] = PRICE_EXPONENT
    for low, high in shape.bounds:
        edges = shape.edges(low, high)
        per_edge = edge_exponents[edges] + reach[shape.children[edges]]
        lengths = shape.lengths[low:high]
        widest = row_most(shape.starts[low:high] - edges.start, lengths, per_edge, -np.inf)
        reach[low:high] = np.maximum(reach[low:high], widest + _sums(lengths) + ROOM)
    return reach


def _sums(lengths: "np.ndarray") -> Floats:
    """What adding so many may add to an exponent."""
    added: Floats = np.log2(np.maximum(lengths, 1)) + 1
    return added


def _exponents(values: Floats, sign: int) -> Floats:
    """Binary exponents, of the large (1) or the small (-1); nil is never the widest."""
    return np.where(values == 0, -np.inf, sign * np.frexp(values)[1].astype(np.float64))
