"""Where the money of a primal goes. Judges: a sheet worked by hand; conservation at every place of random kitchens; the
costs that the kitchen's own network publishes.
"""

from dataclasses import replace
from fractions import Fraction

from hypothesis import HealthCheck, given, settings

from service.domain.breakdown import BreakdownInput
from service.domain.cascade import cascade
from service.domain.chains import NOWHERE, chains, first_of
from service.domain.compile import compile_network
from service.domain.cut_uses import kg_in_dishes
from service.domain.kitchen import KitchenOnDay
from service.domain.money_flow import LEFT, REST, MoneyFlow, money_flow
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_dish,
    a_line,
    a_loss,
    a_main,
    a_recipe,
    a_seamed_topside,
    a_topside_kitchen,
    some_settings,
    some_trim,
)
from tests.kitchens import kitchens

some = settings(max_examples=30, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
PRIMAL = ("primal", "beef-topside")
ROAST = a_dish("roast", a_line("cut topside-roast", "0.3"), menu_price="19")
COLD = a_dish("cold", a_line("cut topside-roast", "0.1"), menu_price="12")
STEAKED = a_breakdown(
    a_main("steak", "0.8", "20"), a_by_product("rind", "0.1", "2"), a_loss("membrane", "0.1", disposal_cost="0.5"),
    code="cap-steaked", input=BreakdownInput(cut="topside-cap"), labour_minutes_per_kg=4)
STEAK = a_dish("steak", a_line("cut steak", "0.2"), menu_price="24")


def flow_of(kitchen: KitchenOnDay, code: str = "topside-seamed") -> MoneyFlow:
    return money_flow(kitchen.breakdowns[code], kitchen, cascade(compile_network(kitchen)))


def money(flow: MoneyFlow, source: tuple[str, str], target: tuple[str, str]) -> Fraction:
    return sum((each.money for each in flow.streams if (each.source, each.target) == (source, target)), Fraction(0))


def test_a_topside_worked_by_hand() -> None:
    """14.20 a kg, 3 minutes at 24.00 an hour, trim finished at 0.40, 0.06 kg of fat credited at 1.20.

    Values off the knife: 0.10 x 16.00 + 0.60 x 17.00 + 0.18 x 8.60 = 13.348; to share 14.20 - 0.072 + 1.20 = 15.328.
    """
    flow = flow_of(a_topside_kitchen(ROAST, COLD))
    of_a_value = Fraction("15.328") / Fraction("13.348")
    assert flow.spent == Fraction("14.20") + Fraction("1.20") + Fraction("0.072")
    assert money(flow, ("price", "beef-topside"), ("used", "")) == Fraction("14.20") * Fraction("0.94")
    assert money(flow, ("price", "beef-topside"), ("loss", "")) == Fraction("14.20") * Fraction("0.04")
    assert money(flow, ("unaccounted", ""), PRIMAL) == Fraction("14.20") * Fraction("0.02")
    assert money(flow, ("labour", "topside-seamed"), PRIMAL) == Fraction("1.20") + Fraction("0.18") * Fraction("0.40")
    assert money(flow, PRIMAL, ("by_product", "topside-fat")) == Fraction("0.072")
    assert money(flow, PRIMAL, ("cut", "topside-roast")) == Fraction("10.20") * of_a_value
    assert money(flow, ("cut", "topside-roast"), ("dish", "roast")) == Fraction("10.20") * of_a_value * Fraction(3, 4)
    assert money(flow, ("cut", "topside-roast"), ("dish", "cold")) == Fraction("10.20") * of_a_value / 4
    assert money(flow, ("cut", "topside-cap"), LEFT) == Fraction("1.60") * of_a_value


@some
@given(kitchens())
def test_into_every_place_flows_what_flows_out_of_it_and_nothing_is_lost(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for breakdown in kitchen.breakdowns.values():
        if breakdown.input.ingredient is None:
            continue
        flow = money_flow(breakdown, kitchen, costing)
        assert all(stream.money > 0 for stream in flow.streams)
        ends = [place for place in flow.places if not flow.out_of(place)]
        for place in flow.places:
            if flow.into(place) and place not in ends:
                assert flow.into(place) == flow.out_of(place), place
        assert flow.spent == sum((flow.into(place) for place in ends), Fraction(0))
        assert {place[0] for place in ends} <= {"dish", "left"}
        few = flow.gathered(1)
        assert few.spent == flow.spent
        assert few.into(REST) + sum(few.into(place) for place in few.places if place[0] == "dish") == sum(
            flow.into(place) for place in flow.places if place[0] == "dish")


@some
@given(kitchens())
def test_a_cut_of_a_breakdown_in_use_carries_what_its_published_cost_says(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for breakdown in kitchen.breakdowns.values():
        if breakdown.input.ingredient is None or not breakdown.in_use:
            continue
        flow = money_flow(breakdown, kitchen, costing)
        for stream in flow.streams:
            if stream.target[0] == "cut" and stream.source[0] == "primal":
                costs = costing.figures(("cut", stream.target[1]))
                assert stream.kg is not None
                assert costs.material is not None
                each = costs.material + ((costs.labour or Fraction(0)) if flow.with_labour else Fraction(0))
                assert stream.money == each * stream.kg


def test_a_cut_that_is_broken_down_again_takes_its_money_along() -> None:
    """0.10 kg of cap a kg: 0.08 of steak, 0.01 of rind at 2.00, 0.01 of membrane at 0.50 to be rid of, 4 minutes."""
    flow = flow_of(a_topside_kitchen(STEAKED, STEAK))
    cap, steak = ("cut", "topside-cap"), ("cut", "steak")
    assert money(flow, ("labour", "cap-steaked"), cap) == Fraction("0.10") * Fraction("1.60")
    assert money(flow, ("charges", "cap-steaked"), cap) == Fraction("0.01") * Fraction("0.50")
    assert money(flow, cap, ("by_product", "rind")) == Fraction("0.02")
    assert money(flow, cap, steak) == flow.into(cap) - Fraction("0.02")
    assert money(flow, steak, ("dish", "steak")) == flow.into(steak)
    assert money(flow, cap, LEFT) == 0


def test_a_cut_that_is_served_and_broken_down_goes_both_ways_by_what_a_portion_of_each_takes() -> None:
    """A portion of steak takes 0.2 kg, which asks for 0.25 kg of cap; a portion of grilled cap takes 0.15 kg."""
    grilled = a_dish("grilled", a_line("cut topside-cap", "0.15"), menu_price="20")
    flow = flow_of(a_topside_kitchen(STEAKED, STEAK, grilled))
    carried = money(flow, PRIMAL, ("cut", "topside-cap"))
    assert money(flow, ("cut", "topside-cap"), ("dish", "grilled")) == carried * Fraction(15, 40)
    assert money(flow, ("labour", "cap-steaked"), ("cut", "topside-cap")) == Fraction("0.10") * Fraction(25, 40) * (
        Fraction("1.60"))


def test_what_a_recipe_takes_counts_in_its_dishes_and_an_allowance_takes_no_weight() -> None:
    ragu = a_recipe("ragu", a_line("cut topside-mince", "0.5"))
    dishes = (a_dish("pasta", a_line("recipe ragu", "0.2", "l"), allowance_percent="10"),
              a_dish("pie", a_line("recipe ragu", "0.1", "l"), a_line("cut topside-mince", "0.05")))
    kitchen = a_topside_kitchen(ragu, *dishes)
    assert kg_in_dishes("topside-mince", compile_network(kitchen)) == {
        "pasta": Fraction("0.1"), "pie": Fraction("0.05") + Fraction("0.05")}


def test_without_a_labour_rate_the_flow_is_of_material_alone() -> None:
    flow = flow_of(a_topside_kitchen(ROAST, settings=some_settings(labour_rate_per_hour=None)))
    assert not flow.with_labour
    assert flow.spent == Fraction("14.20")


def test_what_is_missing_is_named_and_nothing_is_drawn() -> None:
    no_price = flow_of(replace(a_topside_kitchen(), prices={}))
    assert (no_price.streams, [gap.code for gap in no_price.gaps]) == ((), ["no_price"])
    dear_fat = a_seamed_topside(a_main("topside-cap", "0.5", "16"), a_by_product("fat", "0.5", "90"))
    assert [gap.code for gap in flow_of(a_topside_kitchen(dear_fat)).gaps] == ["credits_exceed_cost"]


def test_a_way_that_is_not_in_use_is_drawn_to_its_cuts_and_no_dish_takes_them() -> None:
    steaks = a_breakdown(a_main("topside-roast", "0.7", "17"), some_trim("ends", "0.2", "9"), code="other-way",
                         in_use=False)
    flow = flow_of(a_topside_kitchen(steaks, ROAST), "other-way")
    assert {place for place in flow.places if not flow.out_of(place)} == {LEFT}
    assert flow.spent == Fraction("14.20")


def test_a_breakdown_of_a_cut_belongs_to_the_ingredient_that_its_chain_starts_at() -> None:
    loose = a_breakdown(a_main("x", "0.5", "9"), code="loose", input=BreakdownInput(cut="never-cut"))
    kitchen = a_topside_kitchen(STEAKED, loose)
    found = {start: [each.code for each in of] for start, of in chains(kitchen).items()}
    assert found == {"beef-topside": ["topside-seamed", "cap-steaked"], NOWHERE: ["loose"]}
    assert first_of(STEAKED, kitchen).code == "topside-seamed"
