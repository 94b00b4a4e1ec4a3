"""Breakdowns compiled: the pools M and L per kg of input as one node, and a node for every cut.

    M = input material + packaging + sum over losses (disposal x yield) - sum over by-products (credit x yield)
    L = input labour + minutes per kg x rate / 60

A by-product's cut costs its credit value, whatever the pools are. A main or trim cut is a multiple of the pools plus
its finishing; one that carries nothing of them has no edge to them, and its finishing is all it costs. A cut without
a figure keeps its edge, with factor nil, so that what the pool lacks is told too.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from service.domain.allocation import AllocationGap, allocate, carrier_of
from service.domain.as_purchased import makers, measure_of_ingredient
from service.domain.breakdown import Breakdown, Output, Role
from service.domain.compile_lines import not_there, unit_factor
from service.domain.findings import Finding, Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.labour import NO_LABOUR_RATE, labour_cost
from service.domain.network import NIL, Edge, Key, Node
from service.domain.uses import used_by_input
from service.domain.yields import Yields


def pool_node(breakdown: Breakdown, yields: Yields, kitchen: KitchenOnDay, index: Mapping[Key, int]) -> Node:
    """The material and labour to be shared, per kg of input."""
    edges, gaps = _input(breakdown, kitchen, index)
    labour = labour_cost(breakdown.labour_minutes_per_kg, kitchen.settings)
    material, missing = _credits_and_charges(breakdown, yields)
    return Node("breakdown", breakdown.code, edges, material=material, labour=labour or NIL,
                material_gaps=(*gaps, *missing), labour_gaps=gaps if labour is not None else (*gaps, NO_LABOUR_RATE))


def cut_nodes(breakdown: Breakdown, yields: Yields, pool: int) -> Iterator[Node]:
    """The cuts of a breakdown, each per kg; `pool` is where its pools stand in the network."""
    carriers = [carrier_of(output, yields.fractions[output.cut])
                for output in breakdown.outputs if output.role.carries_joint_cost]
    allocation = allocate(breakdown.method, carriers)
    for output in breakdown.cuts:
        if output.role is Role.BY_PRODUCT:
            yield _by_product_node(output)
            continue
        gaps = tuple(gap_of(gap, breakdown) for gap in allocation.gaps if gap.cut in (None, output.cut))
        findings = tuple(Finding(found.code, "cut", found.cut, found.detail)
                         for found in allocation.findings if found.cut == output.cut)
        carried = allocation.carried.get(output.cut)
        if gaps or carried is None:
            yield Node("cut", output.cut, (Edge(pool, NIL),), material_gaps=gaps, labour_gaps=gaps, findings=findings)
        else:
            edges = (Edge(pool, carried.material_per_pool),) if carried.material_per_pool else ()
            yield Node("cut", output.cut, edges, labour=carried.labour_constant, findings=findings)


def _input(
    breakdown: Breakdown, kitchen: KitchenOnDay, index: Mapping[Key, int]
) -> tuple[tuple[Edge, ...], tuple[Gap, ...]]:
    """A kg of input in the unit that its cost is per. On a loop the input has no node yet: no edge."""
    key = used_by_input(breakdown.input)
    child = index.get(key)
    if child is None:
        looped = key[0] == "cut" and key[1] in makers(kitchen)
        return (), () if looped else (not_there(key),)
    ingredient = kitchen.ingredients.get(key[1]) if key[0] == "ingredient" else None
    factor = Fraction(1) if ingredient is None else unit_factor(key, "kg", measure_of_ingredient(ingredient))
    if isinstance(factor, Gap):
        return (Edge(child, NIL),), (factor,)
    return (Edge(child, factor),), ()


def _credits_and_charges(breakdown: Breakdown, yields: Yields) -> tuple[Fraction, tuple[Gap, ...]]:
    """Packaging and disposal less credits; a by-product that weighs something and has no credit value is a gap."""
    material = charges_per_kg(breakdown, yields)
    gaps = []
    for output in breakdown.outputs:
        if output.role is Role.BY_PRODUCT and yields.fractions[output.cut]:
            if output.credit_value is None:
                gaps.append(no_credit_value(output))
            else:
                material -= Fraction(output.credit_value) * yields.fractions[output.cut]
    return material, tuple(gaps)


def charges_per_kg(breakdown: Breakdown, yields: Yields) -> Fraction:
    """Packaging, and what it costs to be rid of what is lost, per kg of input."""
    return Fraction(breakdown.packaging_per_kg) + sum(
        (Fraction(output.disposal_cost) * yields.fractions[output.cut] for output in breakdown.outputs
         if output.role is Role.LOSS), NIL)


def _by_product_node(output: Output) -> Node:
    if output.credit_value is None:
        return Node("cut", output.cut, material_gaps=(no_credit_value(output),))
    return Node("cut", output.cut, material=Fraction(output.credit_value))


def no_credit_value(output: Output) -> Gap:
    """A by-product that nobody has put a value on."""
    return Gap("missing_value", "cut", output.cut,
               f"{output.cut} has no credit_value, at which a by-product is used and credited: give it (0 is a value).")


def gap_of(gap: AllocationGap, breakdown: Breakdown) -> Gap:
    """Why a cut has no share, as a gap of that cut or of the whole breakdown."""
    if gap.about is None:
        return Gap(gap.code, "breakdown", breakdown.code, gap.detail)
    return Gap(gap.code, "cut", gap.about, gap.detail)
