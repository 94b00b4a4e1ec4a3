"""What the cuts of a breakdown cost by weight, by market value, and when the mains carry the rest, side by side.

The other methods are in the comparison of the breakdown. Costs are material and labour together, per kg of the cut.
"""

from fractions import Fraction

from service.domain.breakdown import Breakdown, Method
from service.domain.breakdown_pools import pools_of
from service.domain.comparison_of_methods import UnderMethod, under_all_methods
from service.domain.cut_figures import CutSheet
from service.domain.main_carries_the_rest import main_carries_the_rest
from service.domain.publication import cost_in_words
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

SHOWN = (Method.WEIGHT, Method.MARKET_VALUE)


def ways_of_sharing(snapshot: Snapshot, breakdown: Breakdown) -> Document:
    """Each main and trim output by three ways; `gaps` say what is missing for which."""
    kitchen = snapshot.kitchen
    yields = CutSheet(kitchen, snapshot.costing).yields(breakdown)
    pools = pools_of(breakdown, yields, kitchen, snapshot.costing)
    methods = {under.method: under for under in under_all_methods(breakdown, yields, pools)}
    rest = main_carries_the_rest(breakdown, yields, pools)
    by_method = [_costs(methods[method]) for method in SHOWN]
    gaps = [*(gap.detail for method in SHOWN for gap in methods[method].gaps), *(gap.detail for gap in rest.gaps)]
    return {
        "in_force": breakdown.method.value, "gaps": list(dict.fromkeys(gaps)),
        "cuts": [{
            "cut": output.cut, "name": output.name, "role": output.role.value,
            "market_value": cost_in_words(_fraction(output.market_value)),
            "weight": cost_in_words(by_method[0].get(output.cut)),
            "by_market_value": cost_in_words(by_method[1].get(output.cut)),
            "rest": cost_in_words(rest.cost_per_kg.get(output.cut)),
        } for output in breakdown.outputs if output.role.carries_joint_cost]}


def _costs(under: UnderMethod) -> dict[str, Fraction | None]:
    return {cut.output.cut: cut.cost for cut in under.cuts}


def _fraction(value: object) -> Fraction | None:
    return None if value is None else Fraction(str(value))
