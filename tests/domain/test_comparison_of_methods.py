"""One breakdown under all methods. Judge: the kitchen in which it is recorded with that method, costed again."""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from hypothesis import HealthCheck, given, settings

from service.domain.breakdown import Breakdown, Method
from service.domain.breakdown_pools import Pools, pools_of
from service.domain.cascade import cascade
from service.domain.comparison_of_methods import UnderMethod, under_all_methods
from service.domain.compile import compile_network
from service.domain.cut_figures import CutSheet
from service.domain.kitchen import KitchenOnDay
from service.domain.yields import Yields
from tests.builders import a_breakdown, a_main, a_seamed_topside, a_topside_kitchen, some_settings, some_trim
from tests.kitchens import kitchens

some = settings(max_examples=30, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def compared(kitchen: KitchenOnDay, code: str) -> tuple[tuple[UnderMethod, ...], Pools, Yields]:
    costing = cascade(compile_network(kitchen))
    breakdown = kitchen.breakdowns[code]
    yields = CutSheet(kitchen, costing).yields(breakdown)
    pools = pools_of(breakdown, yields, kitchen, costing)
    return under_all_methods(breakdown, yields, pools), pools, yields


def with_breakdown(kitchen: KitchenOnDay, breakdown: Breakdown) -> KitchenOnDay:
    return replace(kitchen, breakdowns={**kitchen.breakdowns, breakdown.code: breakdown})


def recorded_sheets(kitchen: KitchenOnDay, breakdown: Breakdown) -> Iterator[tuple[Method, CutSheet]]:
    """The cuts of the kitchen in which the breakdown is in use, and alone makes its cuts, with each method."""
    own = {output.cut for output in breakdown.cuts}
    others = {code: replace(other, in_use=other.in_use and own.isdisjoint(cut.cut for cut in other.cuts))
              for code, other in kitchen.breakdowns.items() if code != breakdown.code}
    for method in Method:
        there = with_breakdown(replace(kitchen, breakdowns=others), replace(breakdown, method=method, in_use=True))
        yield method, CutSheet(there, cascade(compile_network(there)))


@some
@given(kitchens())
def test_cost_is_conserved_by_every_method_to_the_last_digit(kitchen: KitchenOnDay) -> None:
    for code in kitchen.breakdowns:
        methods, pools, yields = compared(kitchen, code)
        for under in methods:
            if under.cost_per_kg_of_input is None or pools.material is None or pools.labour is None:
                assert any(cut.gaps for cut in under.cuts) or not any(cut.yield_fraction for cut in under.cuts)
                continue
            finishing = sum((Fraction(cut.output.finishing_cost) * yields.fractions[cut.output.cut]
                             for cut in under.cuts), Fraction(0))
            assert under.cost_per_kg_of_input == pools.material + pools.labour + finishing


@some
@given(kitchens())
def test_by_each_method_the_cuts_cost_what_they_would_if_it_were_recorded(kitchen: KitchenOnDay) -> None:
    for code, breakdown in kitchen.breakdowns.items():
        if not breakdown.in_use:
            continue
        under = {each.method: each for each in compared(kitchen, code)[0]}
        for method, sheet in recorded_sheets(kitchen, breakdown):
            for cut in under[method].cuts:
                figures = sheet.figures(cut.output.cut)
                assert (cut.material, cut.labour, cut.share) == (
                    figures.material_cost_per_kg, figures.labour_cost_per_kg, figures.share_of_joint_cost)
                found = "dearer_than_buying" in [finding.code for finding in figures.findings]
                assert (cut.dearer_than_buying or False) == found


def test_a_plan_that_is_not_in_use_is_costed_as_if_it_were() -> None:
    """Another way with the same topside, whose cuts nobody has yet: what it would cost is what it then does."""
    steaks = a_breakdown(a_main("steaks", "0.7", "17.00"), some_trim("ends", "0.2", "9.00", finishing_cost="0.40"),
                         code="topside-steaked", in_use=False)
    kitchen = a_topside_kitchen(steaks)
    under = {each.method: each for each in compared(kitchen, "topside-steaked")[0]}
    for method, sheet in recorded_sheets(kitchen, steaks):
        for cut in under[method].cuts:
            if method is not Method.RELATIVE_VALUE:
                assert cut.cost is not None
            assert cut.cost == sheet.figures(cut.output.cut).cost_per_kg


def test_a_method_that_lacks_values_shows_its_gaps_and_the_others_stand() -> None:
    kitchen = a_topside_kitchen(a_seamed_topside(a_main("topside-cap", "0.3", "16.00"), a_main("topside-roast", "0.6")))
    under = {each.method: each for each in compared(kitchen, "topside-seamed")[0]}
    assert under[Method.WEIGHT].gaps == ()
    assert under[Method.WEIGHT].cost_per_kg_of_input == Fraction("14.20") + Fraction(3) * 24 / 60
    for method in (Method.MARKET_VALUE, Method.NET_REALISABLE_VALUE, Method.CONSTANT_MARGIN):
        assert [(gap.code, gap.record) for gap in under[method].gaps] == [("missing_value", "topside-roast")]
        assert under[method].cost_per_kg_of_input is None
    assert {gap.record for gap in under[Method.RELATIVE_VALUE].gaps} == {"topside-cap", "topside-roast"}


def test_without_a_labour_rate_material_stands_by_every_method_and_labour_does_not() -> None:
    kitchen = a_topside_kitchen(settings=some_settings(labour_rate_per_hour=None))
    methods, pools, _ = compared(kitchen, "topside-seamed")
    assert pools.labour is None
    for under in methods:
        if under.method is not Method.RELATIVE_VALUE:
            assert all(cut.material is not None and cut.labour is None for cut in under.cuts)
            assert [gap.code for gap in under.gaps] == ["no_labour_rate"]


def test_an_input_whose_price_is_missing_leaves_every_method_without_figures_and_names_it() -> None:
    for under in compared(replace(a_topside_kitchen(), prices={}), "topside-seamed")[0]:
        assert all(cut.material is None for cut in under.cuts)
        assert ("no_price", "beef-topside") in [(gap.code, gap.record) for gap in under.gaps]
