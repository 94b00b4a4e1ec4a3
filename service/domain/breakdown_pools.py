"""The pools of a breakdown, in use or not: what a kg of its input costs, and the material and labour to be shared.

Of a breakdown in use they are those of the network; one that is not in use is costed as if it were, on the costs of its
input as they stand. An input that is a cut costs what that cut costs: the cost of the chain, not a price.
"""

from dataclasses import dataclass
from fractions import Fraction

from service.domain.as_purchased import measure_of_ingredient
from service.domain.breakdown import Breakdown
from service.domain.cascade import Costing, in_order
from service.domain.compile_breakdowns import pool_node
from service.domain.compile_lines import not_there, unit_factor
from service.domain.findings import Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.network import ONE
from service.domain.publication import total
from service.domain.uses import used_by_input
from service.domain.yields import Yields

BY_PRICE, BY_COST_OF_CUT = "price", "cost_of_cut"
BREAKDOWN = "breakdown"


@dataclass(frozen=True, slots=True)
class InputCost:
    """What a kg of a breakdown's input costs, exactly; None is not known.

    Shape:   `basis` is "price" for what is bought, whose labour is nil, and "cost_of_cut" for a cut.
    """

    basis: str
    material: Fraction | None
    labour: Fraction | None
    gaps: tuple[Gap, ...] = ()

    @property
    def cost(self) -> Fraction | None:
        return total(self.material, self.labour)


@dataclass(frozen=True, slots=True)
class Pools:
    """What is to be shared per kg of input, exactly; None is not known, and the gaps say why."""

    material: Fraction | None
    labour: Fraction | None
    material_gaps: tuple[Gap, ...] = ()
    labour_gaps: tuple[Gap, ...] = ()


def input_cost(breakdown: Breakdown, kitchen: KitchenOnDay, costing: Costing) -> InputCost:
    """The price per kg of the ingredient that is broken down, or what a kg of the cut costs."""
    key = used_by_input(breakdown.input)
    basis = BY_PRICE if key[0] == "ingredient" else BY_COST_OF_CUT
    if key not in costing.network.index:
        return InputCost(basis, None, None, (not_there(key),))
    ingredient = kitchen.ingredients.get(key[1]) if basis == BY_PRICE else None
    factor = ONE if ingredient is None else unit_factor(key, "kg", measure_of_ingredient(ingredient))
    if isinstance(factor, Gap):
        return InputCost(basis, None, None, (factor,))
    costs = costing.figures(key)
    material, labour = (None if cost is None else cost * factor for cost in (costs.material, costs.labour))
    return InputCost(basis, material, labour, costing.gaps(key))


def pools_of(breakdown: Breakdown, yields: Yields, kitchen: KitchenOnDay, costing: Costing) -> Pools:
    """The pools per kg of input; `yields` are those of the breakdown on the kitchen's day."""
    key, index = (BREAKDOWN, breakdown.code), costing.network.index
    if key in index:
        costs = costing.figures(key)
        return Pools(costs.material, costs.labour, costing.material_gaps(key), costing.labour_gaps(key))
    node = pool_node(breakdown, yields, kitchen, index)
    below = [(edge.factor, costing.figures(costing.network.nodes[edge.child].key)) for edge in node.edges]
    material_gaps = in_order({*node.material_gaps, *(gap for _, costs in below for gap in costs.material_gaps)})
    labour_gaps = in_order({*node.labour_gaps, *(gap for _, costs in below for gap in costs.labour_gaps)})
    material, labour = node.material, node.labour
    for factor, costs in below:
        material += factor * (costs.material or 0)
        labour += factor * (costs.labour or 0)
    return Pools(None if material_gaps else material, None if labour_gaps else labour, material_gaps, labour_gaps)
