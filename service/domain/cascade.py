"""The cascade: every figure of a compiled network, exactly, in rationals.

    material(node) = material_scale x sum(factor x material(child)) + material
    labour(node)   =                  sum(factor x labour(child))   + labour

A forward pass in dependency order, done only as far as something is asked for: one dish of ten thousand costs what
stands below that dish. Rules that always hold:

- a figure with a gap of its own or below it is None, and its gaps name everything that is missing, each once;
- a pool below zero leaves its cuts without a number in both channels;
- what is known at least (`known_material`) counts unknown parts as nil; a cut counts wholly or not at all.
"""

from collections.abc import Iterable, Set
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from service.domain.findings import Finding, Gap
from service.domain.network import NIL, Edge, Key, Network, Node

NO_GAPS: frozenset[Gap] = frozenset()
CREDITS_EXCEED_COST = "credits_exceed_cost"


@dataclass(frozen=True, slots=True)
class Figures:
    """What one node costs, per unit of it. `known_material` equals `material` where that is known."""

    material: Fraction | None
    labour: Fraction | None
    known_material: Fraction
    material_gaps: frozenset[Gap] = NO_GAPS
    labour_gaps: frozenset[Gap] = NO_GAPS


Taken = tuple[list[Figures | None], frozenset[int]]
"""Figures that another costing has found by index, and which of them hold no more."""


def cascade(network: Network) -> "Costing":
    """The costs of a network. Nothing is computed until it is asked for, and then once."""
    return Costing(network)


class Costing:
    """The costs of one network, each computed once, on the first question that needs it.

    Units: per base unit of an ingredient, per kg of a breakdown's input, per kg of a cut, per base unit of what a
           recipe makes, per portion of a dish.
    Raises: KeyError for a key that is not in the network.
    """

    def __init__(self, network: Network, like: Taken | None = None) -> None:
        self.network = network
        self._like: Taken = like or ([None] * len(network.nodes), frozenset())
        self._own: dict[str, list[Figures | None]] = {}

    @property
    def _figures(self) -> list[Figures | None]:
        """The figures by index; those taken over are copied on the first question. Threads that copy at once all go on
        with one of the copies."""
        figures = self._own.get("figures")
        if figures is None:
            taken, stale = self._like
            figures = list(taken)
            for index in stale:
                figures[index] = None
            figures = self._own.setdefault("figures", figures)
            self._like = (figures, frozenset())
        return figures

    def figures(self, key: Key) -> Figures:
        """All that is known of one node."""
        return self._at(self.network.index[key])

    def material(self, key: Key) -> Fraction | None:
        return self.figures(key).material

    def labour(self, key: Key) -> Fraction | None:
        return self.figures(key).labour

    def known_material(self, key: Key) -> Fraction:
        """At least so much: what is not known counts as nil."""
        return self.figures(key).known_material

    def material_gaps(self, key: Key) -> tuple[Gap, ...]:
        return in_order(self.figures(key).material_gaps)

    def labour_gaps(self, key: Key) -> tuple[Gap, ...]:
        return in_order(self.figures(key).labour_gaps)

    def gaps(self, key: Key) -> tuple[Gap, ...]:
        """What is missing in either channel, each once."""
        figures = self.figures(key)
        return in_order(figures.material_gaps | figures.labour_gaps)

    def findings(self, key: Key) -> tuple[Finding, ...]:
        """The node's own findings: what is found below it is told where it is found."""
        return self.network.nodes[self.network.index[key]].findings

    def recosted(self, network: Network, changed: Set[int]) -> "Costing":
        """The costs of a network of the same keys in which only `changed` nodes (by index) differ from this one's.

        Exact:   equal to cascade(network). What stands above none of them is taken over, the very same objects.
        """
        return self.without(network, network.standing_on(changed))

    def without(self, network: Network, stale: Set[int]) -> "Costing":
        """The costs of a network of the same keys in which only `stale` nodes cost otherwise. Nothing is copied, and
        no costing in between is held on to, until something is asked for."""
        taken, others = self._like
        return Costing(network, (taken, others | stale))

    def _at(self, index: int) -> Figures:
        known = self._figures[index]
        if known is not None:
            return known
        nodes = self.network.nodes
        for needed in self._still_needed(index):
            self._figures[needed] = self._computed(nodes[needed])
        return self._at(index)

    def _still_needed(self, index: int) -> list[int]:
        """The node and all below it that has no figure yet; a child always stands before its parents."""
        needed = {index}
        waiting = [index]
        while waiting:
            for edge in self.network.nodes[waiting.pop()].edges:
                if self._figures[edge.child] is None and edge.child not in needed:
                    needed.add(edge.child)
                    waiting.append(edge.child)
        return sorted(needed)

    def _computed(self, node: Node) -> Figures:
        below = [(edge, self._figures[edge.child]) for edge in node.edges]
        children = [(edge, figures) for edge, figures in below if figures is not None]
        gaps = [figures.material_gaps for _, figures in children if figures.material_gaps]
        labour_gaps = [figures.labour_gaps for _, figures in children if figures.labour_gaps]
        if node.material_gaps or gaps or node.labour_gaps or labour_gaps or node.kind == "cut":
            own = self._pool_gaps(node)
            return _with_gaps(node, children, NO_GAPS.union(own, node.material_gaps, *gaps),
                              NO_GAPS.union(own, node.labour_gaps, *labour_gaps))
        material = _material(node, children)
        return Figures(material, _labour(node, children), material)

    def _pool_gaps(self, node: Node) -> tuple[Gap, ...]:
        """What a cut lacks because its pool has come out below zero."""
        if node.kind != "cut":
            return ()
        pools = [(self.network.nodes[edge.child], self._figures[edge.child]) for edge in node.edges]
        return tuple(credits_exceed_cost(pool.code) for pool, figures in pools
                     if figures is not None and figures.material is not None and figures.material < 0)


def credits_exceed_cost(breakdown: str) -> Gap:
    """The by-products of a breakdown are credited with more than its input costs."""
    return Gap(CREDITS_EXCEED_COST, "breakdown", breakdown,
               f"The credits of breakdown {breakdown} exceed what its input costs: check the credit values of its "
               "by-products and the price of its input.")


def in_order(gaps: Iterable[Gap]) -> tuple[Gap, ...]:
    """Gaps in the order they are told in: by where they are, then by what they are."""
    return tuple(sorted(gaps, key=lambda gap: (gap.kind, gap.record, gap.code, gap.detail)))


Children = list[tuple[Edge, Figures]]


def _with_gaps(node: Node, children: Children, gaps: frozenset[Gap], labour_gaps: frozenset[Gap]) -> Figures:
    material = None if gaps else _material(node, children)
    labour = None if labour_gaps else _labour(node, children)
    known = material if material is not None else _known_material(node, children)
    return Figures(material, labour, known, gaps, labour_gaps)


def _material(node: Node, children: Children) -> Fraction:
    total = _sum_of_products([(edge.factor, figures.material) for edge, figures in children if figures.material])
    return total * node.material_scale + node.material


def _labour(node: Node, children: Children) -> Fraction:
    return node.labour + _sum_of_products([
        (edge.factor, figures.labour) for edge, figures in children if figures.labour])


def _sum_of_products(pairs: Iterable[tuple[Fraction, Fraction]]) -> Fraction:
    """The sum of products over their common denominator, reduced once: reducing each takes most of the time."""
    products = []
    for left, right in pairs:
        (above, below), (by, per) = left.as_integer_ratio(), right.as_integer_ratio()
        products.append((above * by, below * per))
    common = lcm(*(below for _, below in products))
    return Fraction(sum(above * (common // below) for above, below in products), common)


def _known_material(node: Node, children: Children) -> Fraction:
    if node.kind not in ("recipe", "dish"):
        return NIL
    total = sum((edge.factor * figures.known_material for edge, figures in children), NIL)
    return total * node.material_scale + node.material
