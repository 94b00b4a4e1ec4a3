"""Compiling anew only what changed: the network of a kitchen that differs in some records from one compiled before.

A record moves its own nodes; through its conversions (of an ingredient, a cut's portion weight, what a recipe makes) it
also moves the nodes of those that use it directly; costs are not known here, so nothing further up moves. Rules that
always hold:

- the result equals compile_network(kitchen), nodes and index;
- where the nodes or their order are others (a record more or less, a breakdown that makes other cuts, a recipe that
  uses another so that the order turns), or anything stands on a loop, all is compiled from nothing.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from service.domain.breakdown import Breakdown
from service.domain.compile import compile_network, dish_node, ingredient_node, order_of_recipes, recipe_node
from service.domain.compile_breakdowns import cut_nodes, pool_node
from service.domain.compile_lines import LineCompiler
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key, Network, Node
from service.domain.record_changes import RecordChanges
from service.domain.yields import yields_of


@dataclass(frozen=True, slots=True)
class Recompiled:
    """A network and what is new in it.

    Shape:   `changed` holds the indices of the nodes that differ from those in the same places before; None when the
             network was compiled from nothing.
    """

    network: Network
    changed: frozenset[int] | None


def recompiled(network: Network, before: KitchenOnDay, after: KitchenOnDay) -> Recompiled:
    """The network of the kitchen `after`, given the `network` of the kitchen `before`.

    Exact:   equal to compile_network(after).
    """
    changes = RecordChanges.between(before, after)
    if changes is None:
        return Recompiled(compile_network(after), None)
    nodes = _Anew(network, after, changes).nodes()
    if nodes is None or (changes.uses_other_recipes and not _same_order(network, after)):
        return Recompiled(compile_network(after), None)
    others = {index: node for index, node in nodes.items() if not _same(node, network.nodes[index])}
    return Recompiled(network.with_nodes(others), frozenset(others))


class _Anew:
    """The nodes that a kitchen's changes move, compiled into the places they have."""

    def __init__(self, network: Network, kitchen: KitchenOnDay, changes: RecordChanges) -> None:
        self._network, self._kitchen, self._changes = network, kitchen, changes
        self._lines = LineCompiler(kitchen, network.index)

    def nodes(self) -> dict[int, Node] | None:
        """The nodes by index; None when one of them is on a loop, or uses what stands after it."""
        nodes: dict[int, Node] = {}
        for index, node in self._found(self._users_of_other_measures()):
            if _looped(self._network.nodes[index]) or any(edge.child >= index for edge in node.edges):
                return None
            nodes[index] = node
        return nodes

    def _users_of_other_measures(self) -> set[Key]:
        """Whose lines or input convert through what converts otherwise now."""
        index, measured = self._network.index, self._changes.measured_otherwise
        if not measured:
            return set()
        users = self._network.users.of(self._network.nodes)
        return {self._network.nodes[user].key for key in measured if key in index for user in users[index[key]]}

    def _found(self, users: set[Key]) -> Iterator[tuple[int, Node]]:
        kitchen, index, changes = self._kitchen, self._network.index, self._changes
        broken_down = changes.breakdowns | _codes(users, "breakdown")
        for code in sorted(changes.ingredients):
            yield index["ingredient", code], ingredient_node(kitchen, code)
        for code in sorted(broken_down):
            yield from self._broken_down(kitchen.breakdowns[code])
        for code in sorted(changes.recipes | _codes(users, "recipe")):
            yield index["recipe", code], recipe_node(kitchen.recipes[code], kitchen, self._lines)
        for code in sorted(changes.dishes | _codes(users, "dish")):
            yield index["dish", code], dish_node(kitchen.dishes[code], kitchen, self._lines)

    def _broken_down(self, breakdown: Breakdown) -> Iterator[tuple[int, Node]]:
        """The pools and the cuts after them; a cut that another breakdown makes first stands after that one's."""
        nodes, pool = self._network.nodes, self._network.index["breakdown", breakdown.code]
        yields = yields_of(breakdown, self._kitchen.yield_tests.get(breakdown.code, ()), self._kitchen.day)
        yield pool, pool_node(breakdown, yields, self._kitchen, self._network.index)
        place = pool + 1
        for node in cut_nodes(breakdown, yields, pool):
            if place < len(nodes) and nodes[place].key == node.key:
                yield place, node
                place += 1


def _codes(keys: Iterable[Key], kind: str) -> set[str]:
    return {code for of_kind, code in keys if of_kind == kind}


def _looped(node: Node) -> bool:
    return any(gap.code == "loop" for gap in node.material_gaps)


def _same(one: Node, other: Node) -> bool:
    """Equal in what gaps tell beside their sentence, too."""
    return one == other and all(
        gap.more == was.more for gap, was in zip(one.material_gaps, other.material_gaps, strict=True))


def _same_order(network: Network, kitchen: KitchenOnDay) -> bool:
    order, loops = order_of_recipes(kitchen)
    return not loops and order == [node.code for node in network.nodes if node.kind == "recipe"]
