"""What a breakdown adds to the money that flows through it, and what it charges each cut with, per kg of its input.

    in     cost of the input + labour and finishing + packaging and disposal
    out    credit x yield over by-products + cost per kg x yield over main and trim

Rules that always hold: in = out, exactly, by every method, with labour and without; a breakdown that is not in use is
costed as if it were; a cut that weighs nothing costs nothing here.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.breakdown_pools import input_cost, pools_of
from service.domain.cascade import Costing, credits_exceed_cost, in_order
from service.domain.comparison_of_methods import CutUnderMethod, under_all_methods
from service.domain.compile_breakdowns import charges_per_kg
from service.domain.findings import Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.labour import labour_cost
from service.domain.network import NIL
from service.domain.yields import Yields, yields_of


@dataclass(frozen=True, slots=True)
class BreakdownCosts:
    """The costs of a breakdown by its own method. `gaps`: why material is not known; then the figures say nothing.

    Units:   money per kg of input; `cuts` per kg of the cut.
    """

    breakdown: Breakdown
    yields: Yields
    input_material: Fraction
    charges: Fraction
    labour_added: Fraction
    labour_known: bool
    cuts: Mapping[str, CutUnderMethod]
    gaps: tuple[Gap, ...]

    def cost_per_kg(self, cut: str, with_labour: bool) -> Fraction:
        """What a kg of a cut costs, of a by-product its credit; nil where none of it comes off."""
        output, under = self.breakdown.output(cut), self.cuts.get(cut)
        if under is None:
            return NIL if output is None else Fraction(output.credit_value or 0)
        return (under.material or NIL) + ((under.labour or NIL) if with_labour else NIL)


def breakdown_costs(breakdown: Breakdown, kitchen: KitchenOnDay, costing: Costing) -> BreakdownCosts:
    """The costs of a breakdown on the kitchen's day."""
    yields = yields_of(breakdown, kitchen.yield_tests.get(breakdown.code, ()), kitchen.day)
    paid, pools = input_cost(breakdown, kitchen, costing), pools_of(breakdown, yields, kitchen, costing)
    under = next(each for each in under_all_methods(breakdown, yields, pools) if each.method is breakdown.method)
    weighing = [cut for cut in under.cuts if cut.yield_fraction]
    unknown = {gap for cut in weighing if cut.material is None for gap in cut.gaps}
    below = {credits_exceed_cost(breakdown.code)} if pools.material is not None and pools.material < 0 else set()
    labour = labour_cost(breakdown.labour_minutes_per_kg, kitchen.settings)
    return BreakdownCosts(
        breakdown, yields, paid.material or NIL, charges_per_kg(breakdown, yields),
        (labour or NIL) + _finishing(under.cuts),
        labour is not None and not pools.labour_gaps, {cut.output.cut: cut for cut in under.cuts},
        in_order(unknown | below | set(pools.material_gaps) | _nothing_carries(breakdown, weighing)))


def _finishing(cuts: tuple[CutUnderMethod, ...]) -> Fraction:
    return sum((Fraction(cut.output.finishing_cost) * cut.yield_fraction for cut in cuts), NIL)


def _nothing_carries(breakdown: Breakdown, weighing: list[CutUnderMethod]) -> set[Gap]:
    """By-products alone leave nobody to carry the rest."""
    return set() if weighing else {Gap(
        "nothing_carries_the_cost", "breakdown", breakdown.code,
        f"Breakdown {breakdown.code} has no main or trim output that weighs anything, so that nothing carries its "
        "cost.")}
