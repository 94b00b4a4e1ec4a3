"""Settling: the published integer of every figure, from floats with an error bound, equal to exact arithmetic.

A figure x is to become a whole number of its last decimal place. With |float - x| <= bound:

- further from every tie than the bound: the float decides;
- else, if distance + bound is below 1 / (common denominator of x and the tie), nothing but the tie itself lies so
  near: x is the tie, and the rule for ties decides;
- else the figure is settled from its exact value (`ExactValues`), which is computed for it and what is below alone.

Rules that always hold: half away from zero, except steps, which go up; no figure is published from a guess.
"""

from collections.abc import Callable
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from service.domain.denominators import Floats
from service.domain.network import NIL, Network, Node

HALF = Fraction(1, 2)
Mask = NDArray[np.bool_]


def nearest_whole(value: Fraction) -> int:
    """Rounded half away from zero."""
    units = (2 * abs(value.numerator) + value.denominator) // (2 * value.denominator)
    return units if value >= 0 else -units


def whole_step_up(value: Fraction) -> int:
    """The least whole number that is not below `value` less one half (steps are stored shifted by one half, so that
    what decides them is a tie, as for all other figures)."""
    return -((HALF - value) // 1)


def rounded(x: Floats, bound: Floats, nearest: Callable[[NDArray[np.intp]], Floats],
            half_away: Mask) -> tuple[Floats, NDArray[np.intp]]:
    """The rounded figures, and the flat positions of those that neither bound nor denominator decides.

    Shape:   `x` and `bound` are figures x dishes; `half_away` has one row per figure (False: a step). `nearest` gives
             1 / common denominator, 0 where that is not known, for flat positions: of those that are near a tie.
             NaN in `x` is unknown and stays NaN. Floats of 2**53 and more are never decided.
    Exact:   x less its nearest whole number is exact in floats. Rounding never carries a sum below the half that it
             reaches, so that no figure within its bound of a tie goes unseen.
    """
    whole = np.rint(x)
    off = x - whole
    np.abs(off, out=off)
    near = np.flatnonzero(off + bound >= 0.5)
    if near.size:
        figures = x.ravel()[near]
        away = np.broadcast_to(half_away, x.shape).ravel()[near]
        is_tie = _are_ties(0.5 - off.ravel()[near], bound.ravel()[near], nearest(near))
        is_tie &= away | (figures > 0)
        ties = figures[is_tie]
        whole.ravel()[near[is_tie]] = np.copysign(np.floor(np.abs(ties)) + away[is_tie], ties)
        near = near[~is_tie]
    return whole, near


def _are_ties(distance: Floats, bound: Floats, nearest: Floats) -> Mask:
    """Whether nothing but the tie lies within the bound."""
    are_ties: Mask = distance + bound < nearest
    return are_ties


class ExactValues:
    """Exact values of single nodes in one channel, for those that floats cannot settle.

    Each node below is computed once. `own` gives a node's constant (an ingredient's price); `nil` marks the nodes that
    count as nil. The nodes asked for must be known, or what is unknown below them must be marked nil.
    """

    def __init__(self, network: Network, own: Callable[[int], Fraction], scaled: bool, nil: Mask | None = None) -> None:
        self._nodes = network.nodes
        self._own = own
        self._scaled = scaled
        self._nil = nil
        self._known: dict[int, Fraction] = {}

    def __call__(self, index: int) -> Fraction:
        waiting = [index]
        while waiting:
            current = waiting[-1]
            missing = [] if current in self._known else self._missing(current)
            if missing:
                waiting.extend(missing)
            else:
                waiting.pop()
                if current not in self._known:
                    self._known[current] = self._value(current, self._nodes[current])
        return self._known[index]

    def _missing(self, index: int) -> list[int]:
        if self._nil is not None and self._nil[index]:
            return []
        return [edge.child for edge in self._nodes[index].edges if edge.child not in self._known]

    def _value(self, index: int, node: Node) -> Fraction:
        if self._nil is not None and self._nil[index]:
            return NIL
        total = sum((edge.factor * self._known[edge.child] for edge in node.edges), NIL)
        return (total * node.material_scale if self._scaled else total) + self._own(index)


def exact_labour(network: Network) -> ExactValues:
    """Exact labour of single nodes."""
    return ExactValues(network, lambda index: network.nodes[index].labour, scaled=False)
