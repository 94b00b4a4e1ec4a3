"""The cascade: gaps instead of zeros, pools below zero, only as much work as is asked for."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from service.domain.breakdown import BreakdownInput, Method
from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.findings import Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Edge, Network, Node
from service.domain.yields import yields_of
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_conversion,
    a_dish,
    a_kitchen,
    a_line,
    a_main,
    a_price,
    a_primal,
    a_recipe,
    a_seamed_topside,
    a_topside_kitchen,
    an_ingredient,
    some_settings,
)
from tests.kitchens import kitchens

CAP = ("cut", "topside-cap")
DISH = ("dish", "grilled-cap")


def costed(*records: Any, **facts: Any) -> Costing:
    return cascade(compile_network(a_kitchen(*records, **facts)))


def codes(gaps: Any) -> list[tuple[str, str]]:
    return [(gap.code, gap.record) for gap in gaps]


def test_a_topside_seamed_is_costed_as_on_the_worked_sheet() -> None:
    """Worked by hand: M = 14.20 - 0.06 x 1.20 = 14.128, L = 3 min x 24 / 60 = 1.20, sharing on 1.60, 10.20, 1.548."""
    costing = cascade(compile_network(a_topside_kitchen()))
    joint = Fraction("1.60") + Fraction("10.20") + Fraction("1.548")
    assert costing.material(CAP) == Fraction("14.128") * 16 / joint
    assert costing.labour(CAP) == Fraction("1.20") * 16 / joint
    assert costing.labour(("cut", "topside-mince")) == Fraction("1.20") * Fraction("8.60") / joint + Fraction("0.40")
    assert costing.material(("cut", "topside-fat")) == Fraction("1.20")


def test_a_missing_price_is_told_all_the_way_up_and_harms_no_other_dish() -> None:
    costing = cascade(compile_network(a_topside_kitchen(
        an_ingredient("shallot"),
        an_ingredient("wine", base_unit="l"), a_price("8.00", ingredient="wine", pack_unit="l"),
        a_recipe("jus", a_line("ingredient shallot"), a_line("ingredient wine", "0.5", "l")),
        a_dish("with-jus", a_line("recipe jus", "100", "ml"), a_line("cut topside-cap", "200", "g")),
        a_dish("grilled-cap", a_line("cut topside-cap", "200", "g")))))
    assert costing.material(("dish", "with-jus")) is None
    assert codes(costing.material_gaps(("dish", "with-jus"))) == [("no_price", "shallot")]
    assert costing.labour(("dish", "with-jus")) == costing.labour(DISH)
    assert costing.known_material(("dish", "with-jus")) == costing.material(DISH) + Fraction("0.1") * 4
    assert costing.gaps(DISH) == ()


def test_zero_is_a_price() -> None:
    costing = costed(an_ingredient("nettles"), a_price("0", ingredient="nettles"),
                     a_dish("soup", a_line("ingredient nettles")))
    assert costing.material(("dish", "soup")) == 0
    assert costing.gaps(("dish", "soup")) == ()


def test_without_a_labour_rate_labour_alone_is_not_known_and_only_where_there_are_minutes() -> None:
    costing = cascade(compile_network(a_topside_kitchen(
        a_dish("grilled-cap", a_line("cut topside-cap", "200", "g")),
        a_dish("fat", a_line("cut topside-fat", "200", "g")), settings=some_settings(labour_rate_per_hour=None))))
    assert costing.material(DISH) is not None
    assert costing.labour(DISH) is None
    assert codes(costing.labour_gaps(DISH)) == [("no_labour_rate", "settings")]
    assert costing.material_gaps(DISH) == ()
    assert costing.labour(("dish", "fat")) == 0


def test_credits_above_the_cost_leave_the_cuts_without_a_figure_in_both_channels() -> None:
    costing = costed(a_primal(), a_price("1.00"),
                     a_breakdown(a_main("topside-cap", "0.5", "16"), a_by_product("tallow", "0.5", "3")))
    assert costing.material(CAP) is None
    assert costing.labour(CAP) is None
    (gap,) = costing.labour_gaps(CAP)
    assert (gap.code, gap.kind, gap.record) == ("credits_exceed_cost", "breakdown", "topside-seamed")
    assert gap.detail.startswith("The credits of breakdown topside-seamed exceed")
    assert costing.material(("cut", "tallow")) == 3


def test_credits_equal_to_the_cost_leave_a_cut_that_costs_nothing() -> None:
    costing = costed(a_primal(), a_price("1.50"),
                     a_breakdown(a_main("topside-cap", "0.5", "16"), a_by_product("tallow", "0.5", "3")))
    assert costing.material(CAP) == 0


def test_a_cut_worth_nothing_costs_its_finishing_though_the_primal_has_no_price() -> None:
    costing = costed(a_primal(), a_breakdown(
        a_main("topside-cap", "0.5", "16"), a_main("topside-mince", "0.3", "0.10", finishing_cost="0.40"),
        method=Method.MARKET_VALUE))
    assert costing.material(("cut", "topside-mince")) == 0
    assert costing.labour(("cut", "topside-mince")) == Fraction("0.40")
    (finding,) = costing.findings(("cut", "topside-mince"))
    assert finding.code == "costs_more_to_finish_than_worth"
    assert codes(costing.material_gaps(CAP)) == [("no_price", "beef-topside")]


def test_everything_that_is_missing_is_named_at_once_and_each_once() -> None:
    costing = costed(
        a_primal(),
        a_breakdown(a_main("topside-cap", "0.5"), a_main("topside-roast", "0.4"), method=Method.MARKET_VALUE),
        a_recipe("salt-rub", a_line("ingredient salt", "1", "each"), a_line("ingredient pepper")),
        an_ingredient("salt"), an_ingredient("pepper"),
        a_dish("grilled-cap", a_line("cut topside-cap"), a_line("cut topside-cap"), a_line("recipe salt-rub", "1", "l"),
               a_line("recipe lost"), a_line("cut lost-cut"), a_line("ingredient lost-salt")))
    assert codes(costing.material_gaps(DISH)) == [
        ("not_made", "lost-cut"), ("missing_value", "topside-cap"), ("missing_value", "topside-roast"),
        ("no_price", "beef-topside"), ("not_in_force", "lost-salt"), ("no_price", "pepper"),
        ("missing_conversion", "salt"), ("no_price", "salt"), ("not_in_force", "lost")]


def test_a_primal_bought_by_the_piece_is_broken_down_by_the_kilogram() -> None:
    """8.4 kg a piece at 84.00 are 10.00 a kg."""
    primal = a_primal(base_unit="each", conversions=(a_conversion("each", "8.4", "kg"),))
    costing = costed(primal, a_price("84.00", pack_unit="each"), a_breakdown(a_main("topside-cap", "0.5")))
    assert costing.material(CAP) == 20


def test_conservation_through_a_chain_of_breakdowns() -> None:
    """What the cuts carry adds up to what was paid, also when one of them is seamed once more."""
    kitchen = a_topside_kitchen(a_breakdown(
        a_main("cap-steak", "0.7", "18.00"), a_main("cap-strips", "0.2", "11.00", finishing_cost="0.30"),
        code="cap-seamed", input=BreakdownInput(cut="topside-cap"), method=Method.CONSTANT_MARGIN))
    costing = cascade(compile_network(kitchen))
    bought = Fraction("14.20") + Fraction("1.20") + Fraction("0.18") * Fraction("0.40")
    within_cap = sum(Fraction(part) * (costing.material(("cut", cut)) + costing.labour(("cut", cut)))
                     for cut, part in (("cap-steak", "0.7"), ("cap-strips", "0.2")))
    others = sum(Fraction(part) * (costing.material(("cut", cut)) + costing.labour(("cut", cut)))
                 for cut, part in (("topside-roast", "0.60"), ("topside-mince", "0.18"), ("topside-fat", "0.06")))
    assert Fraction("0.10") * within_cap + others == bought + Fraction("0.10") * Fraction("0.2") * Fraction("0.30")


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(kitchens())
def test_cost_is_conserved_to_the_last_digit_in_every_breakdown_without_a_gap(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for breakdown in kitchen.breakdowns.values():
        carrying = [output for output in breakdown.outputs if output.role.carries_joint_cost]
        keys = [("cut", output.cut) for output in carrying]
        if not breakdown.in_use or not carrying or any(costing.gaps(key) for key in keys):
            continue
        y = yields_of(breakdown, kitchen.yield_tests.get(breakdown.code, ()), kitchen.day).fractions
        pool = costing.figures(("breakdown", breakdown.code))
        if pool.material_gaps or pool.labour_gaps:
            continue
        carried = sum((costing.material(key) + costing.labour(key)) * y[key[1]] for key in keys)
        finishing = sum(Fraction(output.finishing_cost) * y[output.cut] for output in carrying)
        assert carried == pool.material + pool.labour + finishing


def test_one_dish_is_costed_without_its_neighbours() -> None:
    """Node 2 stands on a factor that would fail if anyone computed it."""
    network = Network((Node("ingredient", "salt", material=Fraction(2)),
                       Node("dish", "plain", (Edge(0, Fraction(1, 2)),)),
                       Node("dish", "neighbour", (Edge(0, "never"),))),  # type: ignore[arg-type]
                      {("ingredient", "salt"): 0, ("dish", "plain"): 1, ("dish", "neighbour"): 2})
    costing = cascade(network)
    assert costing.material(("dish", "plain")) == 1
    with pytest.raises(AttributeError):
        costing.material(("dish", "neighbour"))


def test_ten_thousand_levels_neither_crash_nor_wait() -> None:
    levels = [a_recipe(f"level-{n}", a_line(f"recipe level-{n - 1}", "1", "l")) for n in range(1, 10_000)]
    costing = costed(an_ingredient("water", base_unit="l"), a_price("3.00", ingredient="water", pack_unit="l"),
                     a_recipe("level-0", a_line("ingredient water", "1", "l")), *levels)
    assert costing.material(("recipe", "level-9999")) == 3


def test_a_loop_that_slipped_in_is_a_gap_and_what_is_not_on_it_is_costed() -> None:
    costing = costed(
        an_ingredient("water", base_unit="l"), a_price("3.00", ingredient="water", pack_unit="l"),
        a_recipe("stock", a_line("recipe glaze", "1", "l"), a_line("ingredient water", "1", "l")),
        a_recipe("glaze", a_line("recipe stock", "1", "l")), a_recipe("tea", a_line("ingredient water", "1", "l")),
        a_recipe("gravy", a_line("recipe stock", "1", "l")), a_dish("grilled-cap", a_line("recipe gravy", "1", "l")))
    assert {gap.code for gap in costing.gaps(DISH)} == {"loop"}
    assert costing.material(("recipe", "glaze")) is None
    assert costing.material(("recipe", "tea")) == 3


def test_a_breakdown_round_its_own_cut_is_a_loop_too() -> None:
    costing = costed(
        a_breakdown(a_main("front", "0.5"), code="one", input=BreakdownInput(cut="back")),
        a_breakdown(a_main("back", "0.5"), code="two", input=BreakdownInput(cut="front")),
        a_dish("grilled-cap", a_line("cut front")))
    assert costing.material(DISH) is None
    assert {gap.code for gap in costing.material_gaps(DISH)} == {"loop"}


def test_a_loss_cannot_be_used() -> None:
    costing = cascade(compile_network(a_topside_kitchen(a_dish("grilled-cap", a_line("cut topside-silverskin")))))
    assert codes(costing.gaps(DISH)) == [("not_made", "topside-silverskin")]


def test_of_several_breakdowns_of_one_primal_only_those_in_use_make_cuts() -> None:
    spare = a_seamed_topside(a_main("whole-muscle", "0.9"), code="spare", in_use=False)
    costing = cascade(compile_network(a_topside_kitchen(
        spare, a_dish("grilled-cap", a_line("cut whole-muscle")), a_dish("roast", a_line("cut topside-roast")))))
    assert codes(costing.gaps(DISH)) == [("not_made", "whole-muscle")]
    assert costing.material(("dish", "roast")) is not None


def test_several_suppliers_and_none_preferred_are_compared_by_what_a_usable_kilogram_costs() -> None:
    """0.10 + 0.60 + 0.18 of a kg is usable: 14.20 / 0.88 = 16.1364, 13.20 / 0.88 = 15."""
    costing = cascade(compile_network(a_topside_kitchen(a_price("13.20", supplier="holt"))))
    (gap,) = costing.material_gaps(CAP)
    assert gap.code == "no_preferred_supplier"
    assert [(offer["supplier"], offer["cost_per_usable_unit"]) for offer in gap.more["offers"]] == [
        ("fenmoor", "16.1364"), ("holt", "15.0000")]


def test_a_by_product_without_a_credit_value_leaves_material_unknown_and_labour_known() -> None:
    costing = costed(a_primal(), a_price(), a_breakdown(
        a_main("topside-cap", "0.5"), a_by_product("tallow", "0.5", None), labour_minutes_per_kg=Decimal(5)))
    assert codes(costing.material_gaps(CAP)) == [("missing_value", "tallow")]
    assert costing.labour(CAP) == 4


def test_what_is_known_at_least_is_of_a_portion_with_its_allowance() -> None:
    """By hand: half a kg at 8.00 and something without a price, with 10 per cent, over 4 portions: 4.00 x 1.1 / 4."""
    costing = costed(an_ingredient("flour"), an_ingredient("saffron"), a_price("8.00", ingredient="flour"), a_dish(
        "bun", a_line("ingredient flour", "0.5"), a_line("ingredient saffron"), portions="4", allowance_percent="10"))
    assert costing.material(("dish", "bun")) is None
    assert costing.known_material(("dish", "bun")) == Fraction("1.1")


def test_what_either_channel_lacks_is_told_of_both() -> None:
    """No price for material, no rate for labour: one of each, and not what they share."""
    costing = costed(an_ingredient("flour"), a_dish("bun", a_line("ingredient flour"), labour_minutes="3"),
                     settings=some_settings(labour_rate_per_hour=None))
    assert [gap.code for gap in costing.gaps(("dish", "bun"))] == ["no_price", "no_labour_rate"]
    assert [gap.code for gap in costing.material_gaps(("dish", "bun"))] == ["no_price"]


def test_a_value_at_the_split_off_is_shared_on_before_the_finished_one() -> None:
    """By hand: 14.00 a kg over 0.5 x 10 (not 16) and 0.5 x 20 is 14 x 10 / 15 for the first."""
    seamed = a_breakdown(a_main("cap", "0.5", "16", split_off_value="10"), a_main("roast", "0.5", "20"),
                         method=Method.MARKET_VALUE)
    costing = costed(a_primal(), a_price("14.00"), seamed, a_dish("plate", a_line("cut cap"), a_line("cut roast")))
    assert costing.material(("cut", "cap")) == Fraction(140, 15)
    assert costing.material(("cut", "roast")) == Fraction(280, 15)


def a_pot(gap: bool) -> Network:
    """2 units at 3.00 and one unknown, times 1.1, and 0.50 for the pot; a sandwich of two pots."""
    missing = (Gap("no_price", "ingredient", "saffron", "No price."),) if gap else ()
    return Network((
        Node("ingredient", "flour", material=Fraction(3)), Node("ingredient", "saffron", material_gaps=missing),
        Node("recipe", "pot", (Edge(0, Fraction(2)), Edge(1, Fraction(1))), Fraction("0.50"), Fraction("0.80"),
             Fraction("1.1")),
        Node("dish", "sandwich", (Edge(2, Fraction(2)), Edge(2, Fraction(1))), labour=Fraction("0.10"))),
        {("ingredient", "flour"): 0, ("ingredient", "saffron"): 1, ("recipe", "pot"): 2, ("dish", "sandwich"): 3})


def test_what_is_known_at_least_is_summed_and_scaled_as_what_is_known() -> None:
    """By hand: 2 x 3.00 x 1.1 + 0.50 = 7.10 a pot; three pots are 21.30, and 3 x 0.80 + 0.10 of labour."""
    known, partly = cascade(a_pot(gap=False)), cascade(a_pot(gap=True))
    assert known.material(("dish", "sandwich")) == known.known_material(("dish", "sandwich")) == Fraction("21.30")
    assert (partly.material(("dish", "sandwich")), partly.known_material(("dish", "sandwich"))) == (
        None, Fraction("21.30"))
    assert known.labour(("dish", "sandwich")) == partly.labour(("dish", "sandwich")) == Fraction("2.50")


SALT, PLAIN, SALTED = ("ingredient", "salt"), ("dish", "plain"), ("dish", "salted")


def a_table(flour: int, salt: int) -> Network:
    """A plain dish of a unit of flour, a salted one of a unit of salt."""
    return Network((Node("ingredient", "flour", material=Fraction(flour)),
                    Node("ingredient", "salt", material=Fraction(salt)),
                    Node("dish", "plain", (Edge(0, Fraction(1)),)), Node("dish", "salted", (Edge(1, Fraction(1)),))),
                   {("ingredient", "flour"): 0, SALT: 1, PLAIN: 2, SALTED: 3})


@pytest.mark.parametrize("asked", [(), (PLAIN,), (PLAIN, SALTED)])
def test_after_a_price_only_what_stands_on_it_is_costed_anew(asked: tuple[Any, ...]) -> None:
    before = cascade(a_table(flour=3, salt=1))
    old = {key: before.figures(key) for key in asked}
    after = before.recosted(a_table(flour=5, salt=1), {0})
    assert (after.material(PLAIN), after.material(SALTED)) == (5, 1)
    assert SALTED not in old or after.figures(SALTED) is old[SALTED]
    assert [before.figures(key) for key in asked] == list(old.values()), "the costing before stands as it was"


def test_a_figure_is_computed_once_whatever_is_asked_above_it() -> None:
    costing = cascade(a_pot(gap=False))
    pot = costing.figures(("recipe", "pot"))
    assert costing.material(("dish", "sandwich")) == 3 * pot.material
    assert costing.figures(("recipe", "pot")) is pot


def test_prices_one_after_the_other_with_no_question_between_them_are_all_seen() -> None:
    first = cascade(a_table(flour=3, salt=1))
    assert (first.material(PLAIN), first.material(SALTED)) == (3, 1)
    second = first.recosted(a_table(flour=5, salt=1), {0})
    third = second.recosted(a_table(flour=5, salt=2), {1})
    assert (third.material(PLAIN), third.material(SALTED)) == (5, 2)
    assert (second.material(PLAIN), second.material(SALTED)) == (5, 1)
    assert (first.material(PLAIN), first.material(SALTED)) == (3, 1)
    assert third.recosted(a_table(flour=5, salt=9), {1}).material(SALTED) == 9
