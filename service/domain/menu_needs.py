"""What so many covers need of everything below them, in kilograms, litres and pieces.

From the dishes down: lines as purchased into recipes, cuts and ingredients; each breakdown's input is what its cuts ask
for, whole pieces where it starts from what is bought; that input, where it is a cut, is needed in its turn. Rules that
always hold: all is exact, and no price comes into a quantity; a line that cannot be converted leaves what it uses
unknown, and all below it.

Source:  material requirements, gross requirements exploded level by level.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import lcm

from service.domain.as_purchased import makers
from service.domain.breakdown import Breakdown
from service.domain.breakdown_balance import BreakdownBalance, Broken, CutNeed, breakdown_balance
from service.domain.cascade import Costing
from service.domain.cut_figures import CutSheet
from service.domain.exact_sums import worth
from service.domain.findings import Gap
from service.domain.ingredient import Ingredient
from service.domain.kitchen import KitchenOnDay
from service.domain.network import NIL
from service.domain.portions import Pieces


@dataclass(frozen=True, slots=True)
class BoughtAsSuch:
    """What lines use of an ingredient as it is bought, in its base unit. `known` False: at least so much."""

    ingredient: Ingredient
    quantity: Fraction
    known: bool
    unit_price: Fraction | None

    @property
    def cost(self) -> Fraction | None:
        return worth(self.quantity if self.known else None, self.unit_price)


def needs_down(kitchen: KitchenOnDay, costing: Costing, covers: Mapping[str, Fraction], whole_pieces: bool
               ) -> "NeedsDown":
    """What so many covers need, all the way down; `costing` is that of the kitchen's own network.

    Raises:  KeyError for a dish that does not stand.
    """
    walk = NeedsDown(kitchen, costing, whole_pieces)
    for code, quantity in covers.items():
        walk.need_of(costing.network.index["dish", code]).add_line(*quantity.as_integer_ratio())
    walk.down()
    return walk


@dataclass(slots=True)
class _Need:
    """What is needed of a node so far. Lines add up by denominator: a menu has few, and reducing takes long."""

    lines: dict[int, int] = field(default_factory=dict)
    broken_down: Fraction = NIL

    def add_line(self, numerator: int, denominator: int) -> None:
        self.lines[denominator] = self.lines.get(denominator, 0) + numerator

    @property
    def by_lines(self) -> Fraction:
        common = lcm(*self.lines)
        return Fraction(sum(above * (common // below) for below, above in self.lines.items()), common)


@dataclass(slots=True)
class NeedsDown:
    """The way down a kitchen's network: users stand after what they use, so that each node is reached once all that
    asks for it has asked."""

    kitchen: KitchenOnDay
    costing: Costing
    whole_pieces: bool
    needs: dict[int, _Need] = field(default_factory=dict)
    unknown: set[int] = field(default_factory=set)
    gaps: set[Gap] = field(default_factory=set)
    balances: list[BreakdownBalance] = field(default_factory=list)
    bought: list[BoughtAsSuch] = field(default_factory=list)

    def need_of(self, index: int) -> _Need:
        """What is needed of a node so far, to be added to."""
        if index not in self.needs:
            self.needs[index] = _Need()
        return self.needs[index]

    def down(self) -> None:
        nodes = self.costing.network.nodes
        made, cuts, pieces = makers(self.kitchen), CutSheet(self.kitchen, self.costing), Pieces(self.kitchen)
        for index in range(len(nodes) - 1, -1, -1):
            if index not in self.needs:
                continue
            node = nodes[index]
            if node.kind in ("dish", "recipe"):
                self._through_lines(index)
            elif node.kind == "cut":
                self.need_of(self.costing.network.index["breakdown", made[node.code][0].code])
            elif node.kind == "breakdown":
                breakdown = self.kitchen.breakdowns[node.code]
                self._broken_down(index, Broken(breakdown, cuts.yields(breakdown), pieces.of(breakdown),
                                                self._input_cost(index)))
            else:
                self.bought.append(BoughtAsSuch(
                    self.kitchen.ingredients[node.code], self.needs[index].by_lines, index not in self.unknown,
                    self.costing.material(node.key)))

    def _through_lines(self, index: int) -> None:
        node = self.costing.network.nodes[index]
        above, below = self.needs[index].by_lines.as_integer_ratio()
        for edge in node.edges:
            factor, of = edge.factor.as_integer_ratio()
            self.need_of(edge.child).add_line(above * factor, below * of)
            if index in self.unknown or not edge.factor:
                self.unknown.add(edge.child)
        self.gaps.update(node.material_gaps)

    def _broken_down(self, index: int, broken: Broken) -> None:
        network = self.costing.network
        balance = breakdown_balance(broken, self._needs_of_cuts(broken.breakdown), self.costing, self.whole_pieces)
        self.balances.append(balance)
        self.gaps.update(balance.gaps)
        if broken.breakdown.input.ingredient is None:
            for edge in network.nodes[index].edges:
                self.need_of(edge.child).broken_down += balance.needed_input
                if not balance.known:
                    self.unknown.add(edge.child)

    def _needs_of_cuts(self, breakdown: Breakdown) -> dict[str, CutNeed]:
        places = {output.cut: self.costing.network.index["cut", output.cut] for output in breakdown.cuts}
        return {cut: CutNeed(self.needs[place].by_lines, self.needs[place].broken_down, place not in self.unknown)
                for cut, place in places.items() if place in self.needs}

    def _input_cost(self, index: int) -> Fraction | None:
        """Material of a kg of what a breakdown takes; None where that does not stand, or has no such cost."""
        edges = self.costing.network.nodes[index].edges
        material = self.costing.figures(self.costing.network.nodes[edges[0].child].key).material if edges else None
        return None if material is None or not edges[0].factor else material * edges[0].factor
