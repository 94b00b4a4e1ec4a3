"""One breakdown under all methods side by side: what each main and trim output costs by every way of sharing.

Rules that always hold, of every method that has no gap: sum(unit cost x yield) over main and trim is both pools and the
finishing; the method in force gives the cuts' own figures. A method that lacks values shows its gaps, and the others
stand. One that is not in use is costed as if it were.
"""

from dataclasses import dataclass
from fractions import Fraction

from service.domain.allocation import Allocation, Carried, allocate, carrier_of, dearer_than_buying
from service.domain.breakdown import Breakdown, Method, Output
from service.domain.breakdown_pools import Pools
from service.domain.cascade import credits_exceed_cost, in_order
from service.domain.compile_breakdowns import gap_of
from service.domain.findings import Finding, Gap
from service.domain.network import NIL
from service.domain.publication import total
from service.domain.yields import Yields


@dataclass(frozen=True, slots=True)
class CutUnderMethod:
    """What a kg of a cut costs by one method, exactly; None is not known. `gaps` say why."""

    output: Output
    yield_fraction: Fraction
    share: Fraction | None
    material: Fraction | None
    labour: Fraction | None
    gaps: tuple[Gap, ...] = ()

    @property
    def cost(self) -> Fraction | None:
        return total(self.material, self.labour)

    @property
    def dearer_than_buying(self) -> bool | None:
        """Whether a kg costs more than its market value, as published; None where one of them is not known."""
        value = self.output.market_value
        if self.material is None or value is None:
            return None
        return dearer_than_buying(self.material + (self.labour or NIL), Fraction(value))


@dataclass(frozen=True, slots=True)
class UnderMethod:
    """All main and trim outputs by one method."""

    method: Method
    cuts: tuple[CutUnderMethod, ...]
    findings: tuple[Finding, ...]

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What is missing in any cut, each once."""
        return in_order({gap for cut in self.cuts for gap in cut.gaps})

    @property
    def cost_per_kg_of_input(self) -> Fraction | None:
        """Unit costs times yields, over all cuts: the pools and the finishing. None while a cut that weighs something
        has no cost."""
        weighing = [cut for cut in self.cuts if cut.yield_fraction]
        costs = [cut.cost for cut in weighing]
        if not costs or None in costs:
            return None
        return sum((cost * cut.yield_fraction for cost, cut in zip(costs, weighing, strict=True) if cost), NIL)


def under_all_methods(breakdown: Breakdown, yields: Yields, pools: Pools) -> tuple[UnderMethod, ...]:
    """The breakdown by each method, in the order in which the methods are listed."""
    return tuple(_under(method, breakdown, yields, pools) for method in Method)


def _under(method: Method, breakdown: Breakdown, yields: Yields, pools: Pools) -> UnderMethod:
    carrying = [output for output in breakdown.outputs if output.role.carries_joint_cost]
    allocation = allocate(method, [carrier_of(output, yields.fractions[output.cut]) for output in carrying])
    findings = tuple(Finding(found.code, "cut", found.cut, found.detail) for found in allocation.findings)
    return UnderMethod(method, tuple(
        _cut(output, breakdown, yields.fractions[output.cut], pools, allocation) for output in carrying), findings)


def _cut(output: Output, breakdown: Breakdown, fraction: Fraction, pools: Pools, allocation: Allocation
         ) -> CutUnderMethod:
    missing = tuple(gap_of(gap, breakdown) for gap in allocation.gaps if gap.cut in (None, output.cut))
    carried, below_zero = allocation.carried.get(output.cut), pools.material is not None and pools.material < 0
    gaps = in_order({*pools.material_gaps, *pools.labour_gaps,
                     *((credits_exceed_cost(breakdown.code),) if below_zero else ())})
    if missing or carried is None:
        return CutUnderMethod(output, fraction, None, None, None, in_order({*missing, *gaps}))
    material, labour = (None, None) if below_zero and carried.material_per_pool else _unit_cost(carried, pools)
    share = carried.share
    if share is None:
        share = _share_by_margin(output, fraction, total(material, labour), total(pools.material, pools.labour))
    return CutUnderMethod(output, fraction, share, material, labour, gaps if carried.material_per_pool else ())


def _unit_cost(carried: Carried, pools: Pools) -> tuple[Fraction | None, Fraction | None]:
    """What carries nothing of the pools costs its finishing, whatever they are."""
    if not carried.material_per_pool:
        return NIL, carried.labour_constant
    return (None if pools.material is None else carried.material_per_pool * pools.material,
            None if pools.labour is None else carried.labour_per_pool * pools.labour + carried.labour_constant)


def _share_by_margin(output: Output, fraction: Fraction, cost: Fraction | None, joint_cost: Fraction | None
                     ) -> Fraction | None:
    """Under equal margins a share depends on the pools, and is none of nothing."""
    if cost is None or not joint_cost:
        return None
    return (cost - Fraction(output.finishing_cost)) * fraction / joint_cost
