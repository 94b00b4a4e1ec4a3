"""Joint cost shared as the accounting books share it; each sheet names its source."""

from fractions import Fraction
from typing import Any

import pytest

from service.domain.allocation import Allocation, Carrier, allocate
from service.domain.breakdown import Method
from service.domain.rounding import published, text
from tests.worked.sheets import sheet

SHEET = sheet("joint_cost")
CHICKEN, BUTTER, TWO = SHEET["chicken_parts"], SHEET["butter_and_buttermilk"], SHEET["two_products"]


def printed(value: Fraction) -> str:
    return text(published(value, 4))


def carriers_of(rows: list[dict[str, str]], measure: str) -> list[Carrier]:
    total = sum(Fraction(row[measure]) for row in rows)
    return [Carrier(cut=row["cut"], yield_fraction=Fraction(row[measure]) / total,
                    finishing_cost=Fraction(row.get("finishing_cost", "0")),
                    market_value=Fraction(row["market_value"]) if "market_value" in row else None,
                    split_off_value=Fraction(row["split_off_value"])) for row in rows]


def joint_cost_carried(allocation: Allocation, carriers: list[Carrier], joint_cost: Fraction) -> list[Fraction]:
    """Each output's unit cost times its yield, less its own finishing: what it carries of the joint cost."""
    amounts = []
    for carrier in carriers:
        carried = allocation.carried[carrier.cut]
        unit_cost = carried.material_per_pool * joint_cost + carried.labour_constant
        amounts.append((unit_cost - carrier.finishing_cost) * carrier.yield_fraction)
    return amounts


@pytest.mark.parametrize(("method", "column"), [(Method.MARKET_VALUE, "by_market_value"), (Method.WEIGHT, "by_weight")])
def test_chicken_parts_carry_the_cost_of_the_birds(method: Method, column: str) -> None:
    """Horngren, Datar & Rajan, 16-16."""
    carriers = carriers_of(CHICKEN["outputs"], "lb")
    allocation = allocate(method, carriers)
    carried = joint_cost_carried(allocation, carriers, Fraction(CHICKEN["joint_cost"]))
    assert [printed(amount) for amount in carried] == [row[column] for row in CHICKEN["outputs"]]
    assert sum(carried) == 100
    per_lb = Fraction(CHICKEN["joint_cost"]) / Fraction(CHICKEN["input_lb"])
    order = sum((allocation.carried[cut].material_per_pool * per_lb * Fraction(lb)
                 for cut, lb in CHICKEN["order"].items()), Fraction(0))
    assert printed(order) == CHICKEN["order_cost"][method.value]


@pytest.mark.parametrize("method", BUTTER["joint_cost_carried"])
def test_butter_and_buttermilk_by_four_methods(method: str) -> None:
    """Horngren, Datar & Rajan, 16-30. Pools are per cup of input; finishing is the butter's alone."""
    carriers = carriers_of(BUTTER["outputs"], "cups")
    cups = sum(Fraction(row["cups"]) for row in BUTTER["outputs"])
    allocation = allocate(Method(method), carriers)
    carried = joint_cost_carried(allocation, carriers, Fraction(BUTTER["joint_cost"]) / cups)
    assert [amount * cups for amount in carried] == [Fraction(x) for x in BUTTER["joint_cost_carried"][method]]


def test_both_products_earn_the_same_margin_under_constant_margin() -> None:
    """Horngren, Datar & Rajan, 16-30: 68.75 % on finished value."""
    carriers = carriers_of(BUTTER["outputs"], "cups")
    per_cup = Fraction(BUTTER["joint_cost"]) / sum(Fraction(row["cups"]) for row in BUTTER["outputs"])
    carried = allocate(Method.CONSTANT_MARGIN, carriers).carried
    costs = {c.cut: carried[c.cut].material_per_pool * per_cup + carried[c.cut].labour_constant for c in carriers}
    margins = {1 - costs[c.cut] / c.market_value for c in carriers if c.market_value}
    assert margins == {Fraction(BUTTER["constant_margin_percent"]) / 100}


@pytest.mark.parametrize("case", TWO["cases"], ids=lambda case: case["joint_cost"])
def test_two_products_by_physical_measure(case: dict[str, Any]) -> None:
    """OpenStax, Principles of Accounting, Volume 2, 10.5."""
    pounds = [Fraction(lb) for lb in case["lb"]]
    carriers = [Carrier(cut, lb / sum(pounds)) for cut, lb in zip("ab", pounds, strict=True)]
    carried = joint_cost_carried(allocate(Method.WEIGHT, carriers), carriers, Fraction(case["joint_cost"]))
    assert carried == [Fraction(amount) for amount in case["carried"]]


def test_an_immaterial_by_product_is_deducted_from_the_cost_of_the_main_product() -> None:
    """IAS 2, paragraph 14: a by-product's value lowers the pool, and the shares of the rest do not move."""
    carriers = carriers_of(CHICKEN["outputs"][:3], "lb")
    allocation = allocate(Method.MARKET_VALUE, carriers)
    feathers_credit = Fraction("0.10") * 10
    before, after = (joint_cost_carried(allocation, carriers, pool) for pool in (Fraction(100), 100 - feathers_credit))
    assert [kept / whole for kept, whole in zip(after, before, strict=True)] == [Fraction(99, 100)] * 3
    assert sum(before) - sum(after) == feathers_credit
