"""The pools of a breakdown that is not in use are those that it would have in the network, which judges them."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from service.domain.breakdown import Breakdown, BreakdownInput
from service.domain.breakdown_pools import InputCost, Pools, input_cost, pools_of
from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.kitchen import KitchenOnDay
from service.domain.yields import yields_of
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_conversion,
    a_kitchen,
    a_main,
    a_price,
    a_primal,
    a_seamed_topside,
    a_topside_kitchen,
    an_ingredient,
    some_settings,
)
from tests.kitchens import kitchens


def both_ways(kitchen: KitchenOnDay, breakdown: Breakdown, costing: Costing) -> tuple[Pools, Pools]:
    """As the network has it, and as if it had another code, which nobody uses."""
    yields = yields_of(breakdown, kitchen.yield_tests.get(breakdown.code, ()), kitchen.day)
    return (pools_of(breakdown, yields, kitchen, costing),
            pools_of(replace(breakdown, code="not-in-use"), yields, kitchen, costing))


def told(pools: Pools) -> tuple[object, ...]:
    """Its amounts, and what is missing, whoever it says is missing it."""
    return (pools.material, pools.labour, sorted(gap.code for gap in pools.material_gaps),
            sorted(gap.code for gap in pools.labour_gaps))


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(kitchens())
def test_a_breakdown_not_in_use_is_costed_as_if_it_were(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    in_use = [one for one in kitchen.breakdowns.values() if ("breakdown", one.code) in costing.network.index]
    assume(in_use)
    for breakdown in in_use:
        within, beside = both_ways(kitchen, breakdown, costing)
        assert told(beside) == told(within)


@pytest.mark.parametrize(("credit", "rate", "missing"), [
    (None, "24", (["missing_value"], [])), ("0", None, ([], ["no_labour_rate"]))])
def test_what_is_missing_is_told_of_a_breakdown_that_is_not_in_use_too(
        credit: str | None, rate: str | None, missing: tuple[list[str], list[str]]) -> None:
    """Without a credit value of its fat material is unknown and labour is not; without a rate of labour the other."""
    breakdown = a_seamed_topside(a_main("topside-cap", "0.7", "16"), a_by_product("topside-fat", "0.2", credit))
    kitchen = a_topside_kitchen(breakdown, settings=some_settings(labour_rate_per_hour=rate))
    within, beside = both_ways(kitchen, breakdown, cascade(compile_network(kitchen)))
    assert told(beside) == told(within)
    assert told(beside)[2:] == missing
    assert [amount is None for amount in told(beside)[:2]] == [bool(codes) for codes in missing]


def test_an_input_that_costs_nothing_leaves_the_work_on_it() -> None:
    """Bones that are given away: no material, and 3 minutes at 24.00 an hour are 1.20 a kg."""
    breakdown = a_breakdown(a_main("marrow", "0.3", "5"), labour_minutes_per_kg=Decimal(3))
    kitchen = a_kitchen(a_primal(), a_price("0"), breakdown)
    within, beside = both_ways(kitchen, breakdown, cascade(compile_network(kitchen)))
    assert (beside.material, beside.labour) == (within.material, within.labour) == (0, Fraction("1.20"))


def test_the_work_on_a_cut_goes_on_into_what_is_made_of_it() -> None:
    """A cap of half a kg at 14.20 after 3 minutes is 28.40 and 2.40; 5 minutes more at 24.00 an hour make 4.40."""
    seamed = a_breakdown(a_main("topside-cap", "0.5"), labour_minutes_per_kg=Decimal(3))
    trimmed = a_breakdown(a_main("cap-steak", "0.8"), code="cap-trimmed", input=BreakdownInput(cut="topside-cap"),
                          labour_minutes_per_kg=Decimal(5))
    kitchen = a_kitchen(a_primal(), a_price(), seamed, trimmed)
    for pools in both_ways(kitchen, trimmed, cascade(compile_network(kitchen))):
        assert (pools.material, pools.labour) == (Fraction("28.40"), Fraction("4.40"))


def the_input(breakdown: Breakdown, *records: Any) -> InputCost:
    kitchen = a_kitchen(breakdown, *records)
    return input_cost(breakdown, kitchen, cascade(compile_network(kitchen)))


def test_what_is_bought_costs_its_price_a_kilogram_and_no_labour() -> None:
    """14.20 a kg; or 84.00 for a piece of 8.4 kg, which is 10.00."""
    seamed = a_breakdown(a_main("topside-cap", "0.5"))
    by_the_piece = a_primal(base_unit="each", conversions=(a_conversion("each", "8.4", "kg"),))
    assert the_input(seamed, a_primal(), a_price()) == InputCost("price", Fraction("14.20"), Fraction(0))
    assert the_input(seamed, by_the_piece, a_price("84.00", pack_unit="each")) == InputCost(
        "price", Fraction(10), Fraction(0))


def test_a_cut_that_is_the_input_costs_what_the_cut_costs() -> None:
    """Half a kg of a kg at 14.20 that took 3 minutes at 24.00 an hour: 28.40 and 2.40 a kg. What is bought under the
    cut's code by the piece is something else."""
    seamed = a_breakdown(a_main("topside-cap", "0.5"), labour_minutes_per_kg=Decimal(3))
    trimmed = a_breakdown(a_main("cap-steak", "0.8"), code="cap-trimmed", input=BreakdownInput(cut="topside-cap"))
    cost = the_input(trimmed, seamed, a_primal(), a_price(), an_ingredient("topside-cap", base_unit="each"))
    assert cost == InputCost("cost_of_cut", Fraction("28.40"), Fraction("2.40"))
    assert cost.cost == Fraction("30.80")


@pytest.mark.parametrize(("input_", "records", "basis", "missing", "labour"), [
    (BreakdownInput(ingredient="beef-topside"), (), "price", ("not_in_force", "ingredient", "beef-topside"), None),
    (BreakdownInput(cut="lost"), (), "cost_of_cut", ("not_made", "cut", "lost"), None),
    (BreakdownInput(ingredient="beef-topside"), (a_primal(base_unit="l"), a_price(pack_unit="l")), "price",
     ("missing_conversion", "ingredient", "beef-topside"), None),
    (BreakdownInput(ingredient="beef-topside"), (a_primal(),), "price", ("no_price", "ingredient", "beef-topside"),
     Fraction(0))])
def test_an_input_whose_cost_is_not_known_says_why(
        input_: BreakdownInput, records: tuple[Any, ...], basis: str, missing: tuple[str, str, str],
        labour: Fraction | None) -> None:
    cost = the_input(a_breakdown(a_main("steak", "0.5"), input=input_), *records)
    assert (cost.basis, cost.material, cost.labour, cost.cost) == (basis, None, labour, None)
    assert [(gap.code, gap.kind, gap.record) for gap in cost.gaps] == [missing]
