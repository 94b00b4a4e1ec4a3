"""Breakdowns of the same input side by side: a small muscle left on or taken off, roasts or steaks.

Each in what a kg of the input makes when all that comes off is used: its value before and after labour, and that less
what the input costs. How the joint cost is shared does not come into it. A breakdown that is not in use is compared as
if it were.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.breakdown_pools import InputCost
from service.domain.breakdown_value import BreakdownValue, value_of
from service.domain.cut_figures import CutSheet
from service.domain.exact_sums import less
from service.domain.kitchen import KitchenOnDay
from service.domain.network import ONE
from service.domain.yields import Yields


@dataclass(frozen=True, slots=True)
class SideOfBreakdown:
    """One of them, per kg of input, beside the one that is compared.

    Shape:   `gives_also` are cuts that the compared one does not give, `does_not_give` those that it alone gives.
    """

    breakdown: Breakdown
    yields: Yields
    value: BreakdownValue
    input_cost: InputCost
    gives_also: tuple[str, ...]
    does_not_give: tuple[str, ...]

    @property
    def margin_after_labour(self) -> Fraction | None:
        """What is left of the value when the input is paid for."""
        return less(self.value.after_labour, self.input_cost.cost)

    @property
    def margin_before_labour(self) -> Fraction | None:
        return less(self.value.before_labour, self.input_cost.material)


def of_the_same_input(breakdown: Breakdown, kitchen: KitchenOnDay) -> tuple[Breakdown, ...]:
    """The other breakdowns of its input that stand, in use or not, by code."""
    return tuple(other for code, other in sorted(kitchen.breakdowns.items())
                 if code != breakdown.code and other.input == breakdown.input)


def side_by_side(breakdown: Breakdown, others: Iterable[Breakdown], kitchen: KitchenOnDay, sheet: CutSheet,
                 input_cost: InputCost) -> tuple[SideOfBreakdown, ...]:
    """The breakdown first, then the others in their order; `sheet` is that of the kitchen."""
    return tuple(_side(each, breakdown, kitchen, sheet, input_cost) for each in (breakdown, *others))


def _side(each: Breakdown, compared: Breakdown, kitchen: KitchenOnDay, sheet: CutSheet, input_cost: InputCost
          ) -> SideOfBreakdown:
    yields = sheet.yields(each)
    own, others = [output.cut for output in each.cuts], [output.cut for output in compared.cuts]
    return SideOfBreakdown(
        each, yields, value_of(each, yields, kitchen.settings, ONE), input_cost,
        tuple(cut for cut in own if cut not in others), tuple(cut for cut in others if cut not in own))
