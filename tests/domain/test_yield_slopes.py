"""What a kg more of an output does to what the cuts cost. Judge: the compiled network itself, a hair to either side."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.breakdown import Breakdown, Method
from service.domain.cascade import cascade
from service.domain.compile_breakdowns import cut_nodes, pool_node
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Network, Node
from service.domain.yield_slopes import slopes_of
from service.domain.yields import Yields
from tests.builders import a_breakdown, a_by_product, a_kitchen, a_loss, a_main, a_seamed_topside, some_trim
from tests.kitchens import a_breakdown as any_breakdown

HAIR = Fraction(1, 10**12)
KITCHEN = a_kitchen()
PRICED = Node("ingredient", "beef-topside", material=Fraction("14.20"))
FULL = a_breakdown(
    a_main("cap", "0.10", "16.00", relative_value="3", split_off_value="15.20"),
    a_main("roast", "0.55", "17.00", relative_value="4"),
    some_trim("mince", "0.15", "9.00", finishing_cost="0.40", relative_value="1.5"),
    some_trim("scrag", "0.03", "0.30", finishing_cost="0.90", relative_value="0"),
    a_by_product("fat", "0.06", "1.20"), a_by_product("bone", "0.02", "0.30"),
    a_loss("silverskin", "0.04", disposal_cost="0.25"), a_loss("trimmings", "0.01"))


def declared(plan: Breakdown) -> Yields:
    return Yields("declared", {output.cut: Fraction(output.expected_yield) for output in plan.outputs})


def network_at(plan: Breakdown, yields: Yields, kitchen: KitchenOnDay = KITCHEN) -> Network:
    """What the plan compiles to at these yields, with its input at 14.20 a kg."""
    nodes = (PRICED, pool_node(plan, yields, kitchen, {PRICED.key: 0}), *cut_nodes(plan, yields, 1))
    return Network(nodes, {node.key: index for index, node in enumerate(nodes)})


def moved(yields: Yields, cut: str, by: Fraction) -> Yields:
    return replace(yields, fractions={**yields.fractions, cut: yields.fractions[cut] + by})


def by_differences(plan: Breakdown, yields: Yields, cut: str, cost: str) -> Fraction:
    """How a cut's material cost moves with a yield: the slope of the chord over a hair to either side."""
    above, below = (cascade(network_at(plan, moved(yields, cut, by))).material(("cut", cost)) for by in (HAIR, -HAIR))
    assert above is not None
    assert below is not None
    return (above - below) / (2 * HAIR)


def hold(plan: Breakdown, yields: Yields) -> int:
    """Hold every slope of every cut against the chord; how many were held."""
    network = network_at(plan, yields)
    costing, held = cascade(network), 0
    pool = costing.material(("breakdown", plan.code))
    slopes = None if pool is None or pool < 0 else slopes_of(plan, yields, pool)
    if slopes is None:
        return 0
    for output in plan.outputs:
        if not output.role.carries_joint_cost or costing.material(("cut", output.cut)) is None:
            continue
        edges = network.nodes[network.index["cut", output.cut]].edges
        carried = edges[0].factor if edges else Fraction(0)
        for cut in yields.fractions:
            chord = by_differences(plan, yields, cut, output.cut) if yields.fractions[cut] else None
            if chord is not None:
                assert abs(chord - carried * slopes[cut]) <= abs(chord) * Fraction(1, 10**12)
                held += 1
    return held


@pytest.mark.parametrize("method", Method)
def test_the_slopes_of_every_method_are_those_of_what_is_published(method: Method) -> None:
    plan = replace(FULL, method=method)
    assert hold(plan, declared(plan)) == 4 * 8


@settings(max_examples=40, deadline=None)
@given(any_breakdown("seamed", FULL.input), st.sampled_from(Method))
def test_so_they_are_of_any_breakdown(plan: Breakdown, method: Method) -> None:
    plan = replace(plan, method=method, input=FULL.input)
    carriers = [output for output in plan.outputs if output.role.carries_joint_cost]
    hold(plan, declared(plan))
    assert slopes_of(plan, declared(plan), Fraction(1)) is not None or len(carriers) != 1 or not any(
        output.expected_yield for output in carriers)


def test_one_that_carries_all_needs_no_value_and_credits_lower_the_cost() -> None:
    plan = a_breakdown(a_main("loin", "0.8"), a_by_product("bone", "0.1", "2.00"),
                       a_loss("skin", "0.1", disposal_cost="0.50"), method=Method.MARKET_VALUE)
    slopes = slopes_of(plan, declared(plan), Fraction("14.20"))
    assert slopes == {"loin": Fraction("-17.75"), "bone": -2, "skin": Fraction("0.5")}


def test_what_is_worth_nothing_to_share_on_moves_nothing() -> None:
    plan = replace(FULL, method=Method.NET_REALISABLE_VALUE)
    slopes = slopes_of(plan, declared(plan), Fraction("14.20"))
    assert slopes is not None
    assert slopes["scrag"] == 0
    assert slopes["roast"] < 0


def test_a_cost_that_cannot_be_shared_has_no_slopes() -> None:
    missing = a_seamed_topside(a_main("cap", "0.4", "16.00"), some_trim("mince", "0.4"))
    assert slopes_of(missing, declared(missing), Fraction(1)) is None
    worthless = a_seamed_topside(a_main("cap", "0.4", "0"), some_trim("mince", "0.4", "0"))
    assert slopes_of(worthless, declared(worthless), Fraction(1)) is None
