"""Methods side by side as the accounting books have them, through a whole breakdown; the sheet names each source."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from service.domain.breakdown import Method, Output
from service.domain.breakdown_pools import pools_of
from service.domain.cascade import cascade
from service.domain.comparison_of_methods import UnderMethod, under_all_methods
from service.domain.compile import compile_network
from service.domain.cut_figures import CutSheet
from service.domain.rounding import published, text
from tests.builders import a_breakdown, a_kitchen, a_main, a_price, a_primal
from tests.worked.sheets import sheet

SHEET = sheet("joint_cost")
CHICKEN, BUTTER = SHEET["chicken_parts"], SHEET["butter_and_buttermilk"]


def outputs_of(rows: list[dict[str, str]], measure: str) -> tuple[Fraction, list[Output]]:
    """What went in, and each product as an output of it; a kg stands for the book's unit."""
    whole = sum(Fraction(row[measure]) for row in rows)
    return whole, [a_main(row["cut"], str(Decimal(row[measure]) / Decimal(int(whole))), row.get("market_value"),
                          split_off_value=row["split_off_value"], finishing_cost=row.get("finishing_cost", "0"))
                   for row in rows]


def all_methods(joint_cost: str, whole: Fraction, outputs: list[Output]) -> dict[Method, UnderMethod]:
    """The joint cost is what the whole input was bought for, in one pack."""
    breakdown = a_breakdown(*outputs)
    kitchen = a_kitchen(a_primal(), a_price(joint_cost, pack_quantity=str(int(whole))), breakdown)
    costing = cascade(compile_network(kitchen))
    yields = CutSheet(kitchen, costing).yields(breakdown)
    pools = pools_of(breakdown, yields, kitchen, costing)
    assert pools.material == Fraction(joint_cost) / whole
    return {under.method: under for under in under_all_methods(breakdown, yields, pools)}


def carried(under: UnderMethod, whole: Fraction) -> list[Fraction]:
    """What each product carries of the joint cost: its cost less its own finishing, over all of it."""
    return [(cut.cost - Fraction(cut.output.finishing_cost)) * cut.yield_fraction * whole
            for cut in under.cuts if cut.cost is not None]


def test_chicken_parts_by_weight_and_by_value_side_by_side() -> None:
    """Horngren, Datar & Rajan, 16-16: no finished values, so that two of the methods say what is missing."""
    whole, outputs = outputs_of(CHICKEN["outputs"], "lb")
    methods = all_methods(CHICKEN["joint_cost"], whole, outputs)
    for method, column in ((Method.MARKET_VALUE, "by_market_value"), (Method.WEIGHT, "by_weight")):
        told = [text(published(amount, 4)) for amount in carried(methods[method], whole)]
        assert told == [row[column] for row in CHICKEN["outputs"]]
    for method in (Method.NET_REALISABLE_VALUE, Method.CONSTANT_MARGIN, Method.RELATIVE_VALUE):
        assert [gap.record for gap in methods[method].gaps] == sorted(row["cut"] for row in CHICKEN["outputs"])


@pytest.mark.parametrize("method", BUTTER["joint_cost_carried"])
def test_butter_and_buttermilk_by_four_methods_side_by_side(method: str) -> None:
    """Horngren, Datar & Rajan, 16-30."""
    whole, outputs = outputs_of(BUTTER["outputs"], "cups")
    under: dict[Method, Any] = all_methods(BUTTER["joint_cost"], whole, outputs)
    assert carried(under[Method(method)], whole) == [Fraction(x) for x in BUTTER["joint_cost_carried"][method]]
