"""The pools of a breakdown that is not in use are those that it would have in the network, which judges them."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings

from service.domain.breakdown import Breakdown
from service.domain.breakdown_pools import Pools, pools_of
from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.kitchen import KitchenOnDay
from service.domain.yields import yields_of
from tests.builders import a_by_product, a_main, a_seamed_topside, a_topside_kitchen, some_settings
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
