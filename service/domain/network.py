"""The cost network of one day: every figure as a linear combination of those below it, in dependency order.

    material(node) = material_scale x sum(factor x material(child)) + material
    labour(node)   =                  sum(factor x labour(child))   + labour

The nodes: an ingredient (per base unit; its material is the unit price), a breakdown (the pools M and L, per kg of
input), a cut (per kg), a recipe (per base unit of what it makes), a dish (per portion; its scale is 1 + allowance).
A child always stands before its parents, so one forward pass costs the menu. All factors are exact.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
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


class Users:
    """The direct users of every node, found when first asked for; networks of the same edges share them."""

    def __init__(self) -> None:
        self._found: list[list[int]] | None = None

    def of(self, nodes: Sequence[Node]) -> list[list[int]]:
        """Per node, the indices of those with an edge to it."""
        if self._found is None:
            users: list[list[int]] = [[] for _ in nodes]
            for index, node in enumerate(nodes):
                for edge in node.edges:
                    users[edge.child].append(index)
            self._found = users
        return self._found


@dataclass(frozen=True, slots=True)
class Network:
    """The nodes in dependency order, and where each stands."""

    nodes: tuple[Node, ...]
    index: Mapping[Key, int]
    users: Users = field(default_factory=Users, repr=False, compare=False)

    def with_nodes(self, changed: Mapping[int, Node]) -> "Network":
        """The network with other nodes, of the same keys, in some places."""
        if not changed:
            return self
        nodes = list(self.nodes)
        for index, node in changed.items():
            nodes[index] = node
        alike = all(_children(node) == _children(self.nodes[index]) for index, node in changed.items())
        return Network(tuple(nodes), self.index, self.users if alike else Users())

    def standing_on(self, changed: Iterable[int]) -> set[int]:
        """These nodes and all that stands above them, however far."""
        users = self.users.of(self.nodes)
        found = set(changed)
        waiting = list(found)
        while waiting:
            for user in users[waiting.pop()]:
                if user not in found:
                    found.add(user)
                    waiting.append(user)
        return found


def _children(node: Node) -> list[int]:
    return [edge.child for edge in node.edges]
