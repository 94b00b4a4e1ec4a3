"""Yields, butcher's tests and control charts against published sheets; each sheet names its source."""

from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from service.domain.allocation import allocate, carrier_of
from service.domain.balance import check_test
from service.domain.breakdown import Breakdown, Method, Role, YieldsFrom
from service.domain.control_chart import individuals_limits
from service.domain.price_in_force import unit_price
from service.domain.quantity import convert
from service.domain.rounding import published, text
from service.domain.yield_test import YieldTest
from service.domain.yields import Yields, yields_of
from tests.builders import a_breakdown, a_by_product, a_loss, a_main, a_price, a_primal, a_yield_test
from tests.worked.sheets import sheet

TODAY = date(2026, 11, 25)
RIB = sheet("rib_of_beef")
SIMPLE = sheet("simple_yields")
JOINTS = sheet("household_joints")
CHART = sheet("flow_rate")


def printed(value: Fraction, places: int) -> str:
    return text(published(value, places))


def cost_per_kg_of_the_only_carrier(breakdown: Breakdown, yields: Yields, pool: Fraction) -> Fraction:
    carriers = [carrier_of(o, yields.fractions[o.cut]) for o in breakdown.outputs if o.role.carries_joint_cost]
    [carried] = allocate(breakdown.method, carriers).carried.values()
    return carried.material_per_pool * pool


def the_rib() -> tuple[Breakdown, YieldTest]:
    makers = {"main": lambda row: a_main(row["cut"], "0"), "loss": lambda row: a_loss(row["cut"], "0"),
              "by_product": lambda row: a_by_product(row["cut"], "0", row["value"])}
    breakdown = a_breakdown(*(makers[row["role"]](row) for row in RIB["outputs"]),
                            yields_from=YieldsFrom.TESTS, method=Method.MARKET_VALUE)
    weights = {row["cut"]: row["weight"] for row in RIB["outputs"]}
    return breakdown, a_yield_test(RIB["input_weight"], weights, unit=RIB["unit"])


def test_a_rib_of_beef_costs_its_net_cost_over_what_is_usable() -> None:
    """Dittmer & Keefe: by-products credited, one carrying output, no values needed."""
    breakdown, test = the_rib()
    yields = yields_of(breakdown, [test], TODAY)
    pound = convert(Fraction(1), "lb", "kg", ())
    price = unit_price(a_price(RIB["price"], pack_unit="lb"), a_primal())
    credits_per_kg = sum(Fraction(o.credit_value or 0) / pound * yields.fractions[o.cut]
                         for o in breakdown.outputs if o.role is Role.BY_PRODUCT)
    per_lb = cost_per_kg_of_the_only_carrier(breakdown, yields, price - credits_per_kg) * pound
    factor = per_lb / Fraction(RIB["price"])
    assert check_test(breakdown, test, Decimal("0.5")) == []
    assert yields.unaccounted == 0
    assert printed(price * pound * Fraction(RIB["input_weight"]), 4) == RIB["input_cost"]
    assert printed(per_lb * 22, 4) == RIB["carried_by_the_rib"]
    assert printed(per_lb, 6) == RIB["cost_per_usable_lb"]
    assert printed(factor, 6) == RIB["cost_factor"]
    assert printed(per_lb, 3) == RIB["printed"]["cost_per_usable_lb"]
    assert printed(factor, 3) == RIB["printed"]["cost_factor"]
    assert factor < 1 / yields.fractions["oven-ready-rib"]


def test_the_rib_once_cooked_costs_more_a_portion() -> None:
    cooked: dict[str, Any] = RIB["cooked"]
    roasting = a_breakdown(a_main("roast-rib", "0"), yields_from=YieldsFrom.TESTS)
    yields = yields_of(roasting, [a_yield_test(cooked["from_lb"], {"roast-rib": cooked["to_lb"]}, unit="lb")], TODAY)
    raw = Fraction(RIB["carried_by_the_rib"]) / 22
    per_lb = cost_per_kg_of_the_only_carrier(roasting, yields, raw)
    portion_lb = convert(Fraction(cooked["portion_oz"]), "oz", "lb", ())
    assert printed(per_lb, 6) == cooked["cost_per_salable_lb"]
    assert printed(per_lb * portion_lb, 6) == cooked["portion_cost"]
    assert printed(per_lb / Fraction(RIB["price"]), 6) == cooked["factor_per_lb"]


@pytest.mark.parametrize("row", SIMPLE["weighed"], ids=lambda row: row["what"])
def test_a_yield_is_what_is_left_over_what_went_in(row: dict[str, str]) -> None:
    """BCcampus and USDA, as each row names."""
    plan = a_breakdown(a_main("kept", "0"), yields_from=YieldsFrom.TESTS)
    yields = yields_of(plan, [a_yield_test(row["before"], {"kept": row["after"]}, unit=row["unit"])], TODAY)
    assert yields.basis == "tests"
    assert printed(yields.fractions["kept"] * 100, 2) == row["percent"]


@pytest.mark.parametrize("row", SIMPLE["declared"], ids=lambda row: row["what"])
def test_a_declared_yield_sets_the_cost_of_what_can_be_sold(row: dict[str, str]) -> None:
    """Voges et al. and USDA: with no credit the cost factor is 1 / yield."""
    plan = a_breakdown(a_main("saleable", row["saleable"]))
    yields = yields_of(plan, [], TODAY)
    assert yields.basis == "declared"
    assert cost_per_kg_of_the_only_carrier(plan, yields, Fraction(1)) * Fraction(row["saleable"]) == 1
    assert yields.unaccounted == 1 - Fraction(row["saleable"])


def test_losses_multiply_and_do_not_add() -> None:
    """0.80 after trimming and 0.75 after cooking leave 0.60 (arithmetic; USDA gives the two kinds of loss apart)."""
    trimmed, cooked = (a_breakdown(a_main("kept", part)) for part in ("0.80", "0.75"))
    raw = cost_per_kg_of_the_only_carrier(trimmed, yields_of(trimmed, [], TODAY), Fraction(1))
    assert cost_per_kg_of_the_only_carrier(cooked, yields_of(cooked, [], TODAY), raw) == 1 / Fraction("0.60")


@pytest.mark.parametrize("row", JOINTS["joints"], ids=lambda row: row["joint"])
def test_a_household_joint_costs_more_a_pound_on_the_plate(row: dict[str, str]) -> None:
    """Mrs Beeton, p. 434."""
    plan = a_breakdown(a_main("eatable", "0"), yields_from=YieldsFrom.TESTS)
    test = a_yield_test(row["bought_oz"], {"eatable": row["eatable_oz"]}, unit="oz")
    per_lb = cost_per_kg_of_the_only_carrier(plan, yields_of(plan, [test], TODAY), Fraction(row["pence_per_lb"]))
    assert printed(per_lb, 3) == row["pence_per_eatable_lb"]


@pytest.mark.parametrize("row", JOINTS["rows_oz"], ids=lambda row: row["joint"])
def test_a_household_joint_balances_to_the_ounce(row: dict[str, str]) -> None:
    """Mrs Beeton, p. 434, second table: waste, loss in cooking and meat make up what was bought."""
    losses = a_loss("waste", "0"), a_loss("cooking", "0")
    plan = a_breakdown(a_main("eatable", "0"), *losses, yields_from=YieldsFrom.TESTS)
    test = a_yield_test(row["bought"], {part: row[part] for part in ("eatable", "waste", "cooking")}, unit="oz")
    assert check_test(plan, test, Decimal(0)) == []
    assert yields_of(plan, [test], TODAY).unaccounted == 0


def test_an_individuals_chart_has_the_handbooks_limits() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2, from memory. 2.66 stands for 3 / 1.128 = 2.6596, hence the small allowance."""
    readings = [Fraction(reading) for reading in CHART["readings"]]
    lower, upper, moving_range = individuals_limits(readings) or (Fraction(), Fraction(), Fraction())
    assert printed((lower + upper) / 2, 2) == CHART["mean"]
    assert printed(moving_range, 4) == CHART["average_moving_range"]
    assert abs(upper - Fraction(CHART["upper_limit"])) < Fraction("0.001")
    assert abs(lower - Fraction(CHART["lower_limit"])) < Fraction("0.001")
