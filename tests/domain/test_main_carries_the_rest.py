"""Main carries the rest. Judges: a sheet worked by hand; conservation on random kitchens; the method of market value,
with which it agrees where the kitchen's values are what its cuts cost.
"""

from fractions import Fraction

from hypothesis import HealthCheck, given, settings

from service.domain.breakdown import Breakdown
from service.domain.breakdown_pools import pools_of
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.kitchen import KitchenOnDay
from service.domain.main_carries_the_rest import MainCarriesTheRest, main_carries_the_rest
from service.domain.publication import total
from service.domain.yields import yields_of
from tests.builders import a_by_product, a_main, a_seamed_topside, a_topside_kitchen, some_settings, some_trim
from tests.kitchens import kitchens

some = settings(max_examples=30, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def seen(kitchen: KitchenOnDay, breakdown: Breakdown) -> MainCarriesTheRest:
    yields = yields_of(breakdown, kitchen.yield_tests.get(breakdown.code, ()), kitchen.day)
    return main_carries_the_rest(breakdown, yields,
                                 pools_of(breakdown, yields, kitchen, cascade(compile_network(kitchen))))


def of_topside(*outputs: object, **facts: object) -> MainCarriesTheRest:
    kitchen = a_topside_kitchen(a_seamed_topside(*outputs, **facts))  # type: ignore[arg-type]
    return seen(kitchen, kitchen.breakdowns["topside-seamed"])


def test_a_topside_worked_by_hand() -> None:
    """14.20 and 1.20 of minutes less 0.072 for fat are 15.328; trim at 8.60 net takes 0.18 x 8.60 = 1.548 of it."""
    found = of_topside()
    rest = Fraction("15.328") - Fraction("1.548")
    value = Fraction("0.10") * 16 + Fraction("0.60") * 17
    assert found.rest == rest
    assert found.cost_per_kg == {"topside-cap": 16 * rest / value, "topside-roast": 17 * rest / value,
                                 "topside-mince": Fraction(9)}


@some
@given(kitchens())
def test_cost_is_conserved_to_the_last_digit(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for breakdown in kitchen.breakdowns.values():
        yields = yields_of(breakdown, kitchen.yield_tests.get(breakdown.code, ()), kitchen.day)
        pools = pools_of(breakdown, yields, kitchen, costing)
        found = main_carries_the_rest(breakdown, yields, pools)
        weighing = [output for output in breakdown.outputs
                    if output.role.carries_joint_cost and yields.fractions[output.cut]]
        if found.gaps:
            assert found.cost_per_kg == {}
            continue
        assert pools.material is not None
        assert pools.labour is not None
        finishing = sum(Fraction(output.finishing_cost) * yields.fractions[output.cut] for output in weighing)
        carried = sum(found.cost_per_kg[output.cut] * yields.fractions[output.cut] for output in weighing)
        assert carried == pools.material + pools.labour + finishing


def test_one_main_carries_the_rest_without_a_value() -> None:
    found = of_topside(a_main("roast", "0.6"), some_trim("ends", "0.2", "9.00"))
    assert found.cost_per_kg == {"roast": (Fraction("15.40") - Fraction("1.80")) / Fraction("0.6"), "ends": 9}


def test_trim_that_costs_more_to_finish_than_it_is_worth_costs_its_finishing_and_relieves_nobody() -> None:
    found = of_topside(a_main("roast", "0.6"), some_trim("ends", "0.2", "1.00", finishing_cost="1.50"))
    assert found.cost_per_kg == {"roast": Fraction("15.40") / Fraction("0.6"), "ends": Fraction("1.50")}


def test_what_is_missing_is_named() -> None:
    assert [(gap.code, gap.record) for gap in of_topside(a_main("roast", "0.6"), some_trim("ends", "0.2")).gaps] == [
        ("missing_value", "ends")]
    two = of_topside(a_main("roast", "0.5", "17"), a_main("cap", "0.1"), some_trim("ends", "0.2", "9"))
    assert [(gap.code, gap.record) for gap in two.gaps] == [("missing_value", "cap")]
    assert [gap.code for gap in of_topside(some_trim("ends", "0.6", "9")).gaps] == ["nothing_carries_the_cost"]
    assert [gap.code for gap in of_topside(a_main("roast", "0.2"), some_trim("ends", "0.6", "90")).gaps] == [
        "trim_exceeds_cost"]
    assert [gap.code for gap in of_topside(a_main("roast", "0.5"), a_by_product("fat", "0.5", "90")).gaps] == [
        "credits_exceed_cost"]
    kitchen = a_topside_kitchen(settings=some_settings(labour_rate_per_hour=None))
    assert [gap.code for gap in seen(kitchen, kitchen.breakdowns["topside-seamed"]).gaps] == ["no_labour_rate"]


def test_it_agrees_with_the_method_market_value_where_values_come_to_what_there_is_to_share() -> None:
    """0.5 x 20.00 + 0.1 x 18.00 + 0.4 x 9.00 = 15.40: by either way each cut costs its value."""
    breakdown = a_seamed_topside(
        a_main("roast", "0.5", "20"), a_main("cap", "0.1", "18"), some_trim("ends", "0.4", "9"))
    kitchen = a_topside_kitchen(breakdown)
    recorded = cascade(compile_network(kitchen))
    by_method = {cut.cut: recorded.figures(("cut", cut.cut)) for cut in breakdown.cuts}
    assert seen(kitchen, breakdown).cost_per_kg == {
        cut: total(figures.material, figures.labour) for cut, figures in by_method.items()}
    assert of_topside(a_main("roast", "0.5", "21"), a_main("cap", "0.1", "18"), some_trim("ends", "0.4", "9")
                      ).cost_per_kg["ends"] == 9
