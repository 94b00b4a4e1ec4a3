"""The cost network of one day: every figure as a linear combination of those below it, in dependency order.

    material(node) = material_scale x sum(factor x material(child)) + material
    labour(node)   =                  sum(factor x labour(child))   + labour

The nodes: an ingredient (per base unit; its material is the unit price), a breakdown (the pools M and L, per kg of
input), a cut (per kg), a recipe (per base unit of what it makes), a dish (per portion; its scale is 1 + allowance).
A child always stands before its parents, so one forward pass costs the menu. All factors are exact.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from service.domain.findings import Finding, Gap

ONE = Fraction(1)
NIL = Fraction(0)
Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Edge:
    """`factor` units of the child go into one unit of the node. `child` is an index into the network's nodes."""

    child: int
    factor: Fraction


@dataclass(frozen=True, slots=True)
class Node:
    """One figure to be. Own gaps null the figure whatever its children are.

    A breakdown's node is a pool: below zero its cuts have the gap `credits_exceed_cost`.
    """

    kind: str
    code: str
    edges: tuple[Edge, ...] = ()
    material: Fraction = NIL
    labour: Fraction = NIL
    material_scale: Fraction = ONE
    material_gaps: tuple[Gap, ...] = ()
    labour_gaps: tuple[Gap, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def key(self) -> Key:
        return (self.kind, self.code)


@dataclass(frozen=True, slots=True)
class Network:
    """The nodes in dependency order, and where each stands."""

    nodes: tuple[Node, ...]
    index: Mapping[Key, int]
