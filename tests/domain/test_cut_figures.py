"""What is published of a cut: costs, factor, share, chain and findings."""

from fractions import Fraction
from typing import Any

import pytest

from service.domain.breakdown import BreakdownInput, Method, YieldsFrom
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.cut_figures import CutFigures, CutSheet
from service.domain.kitchen import KitchenOnDay
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_conversion,
    a_kitchen,
    a_loss,
    a_main,
    a_price,
    a_primal,
    a_seamed_topside,
    a_yield_test,
    some_settings,
    some_trim,
)


def figures(cut: str, *records: Any) -> CutFigures:
    kitchen = a_kitchen(*records)
    return CutSheet(kitchen, cascade(compile_network(kitchen))).figures(cut)


def sheet(kitchen: KitchenOnDay) -> CutSheet:
    return CutSheet(kitchen, cascade(compile_network(kitchen)))


def test_the_cap_of_the_documentation_comes_out_to_the_digit() -> None:
    """The further outputs are invented so that the credits are 0.096 and the sales value 14.65 a kg of topside."""
    breakdown = a_seamed_topside(
        a_main("topside-cap", "0.10", "16.00", portion_weight_kg="0.267"), a_main("topside-roast", "0.58", "18.00"),
        a_main("topside-side", "0.06", "17.50"), some_trim("topside-mince", "0.12", "13.40", finishing_cost="0.40"),
        a_by_product("topside-fat", "0.06", "1.20"), a_by_product("topside-string", "0.04", "0.60"),
        a_loss("topside-silverskin", "0.04"))
    assert figures("topside-cap", a_primal(), a_price(), breakdown).as_published() == {
        "cut": "topside-cap", "name": "topside-cap", "role": "main", "currency": "GBP", "status": "complete",
        "breakdown": "topside-seamed", "input": {"ingredient": "beef-topside"}, "ingredient": "beef-topside",
        "method": "market_value", "yield": "0.1000", "yield_basis": "declared", "yield_of_ingredient": "0.1000",
        "material_cost_per_kg": "15.4037", "labour_cost_per_kg": "1.3106", "cost_per_kg": "16.7143",
        "cost_factor": "1.0848", "share_of_joint_cost": "0.1092", "market_value": "16.0000",
        "portion_weight_kg": "0.2670", "cost_per_portion": "4.4627"}


def test_a_rib_of_beef_costs_what_the_textbook_says() -> None:
    """Dittmer & Keefe, Principles of Food, Beverage, and Labor Cost Controls, 9th ed., ch. 6, exercise 4.

    Pounds stand for kilograms: 38.75 at 3.19; bones, short ribs and chopped beef are credited; 22 are oven-ready.
    """
    weights = {
        "oven-ready": "22", "fat": "6.5", "bones": "4.25", "short-ribs": "3.25", "chopped": "2.5", "cutting": "0.25"}
    rib = a_seamed_topside(
        a_main("oven-ready", "0"), a_loss("fat", "0"), a_by_product("bones", "0", "0.32"),
        a_by_product("short-ribs", "0", "1.49"), a_by_product("chopped", "0", "1.59"), a_loss("cutting", "0"),
        labour_minutes_per_kg="0", yields_from=YieldsFrom.TESTS)
    published = figures("oven-ready", a_primal(), a_price("3.19"), rib,
                        a_yield_test("38.75", weights)).as_published()
    assert (published["material_cost_per_kg"], published["cost_factor"]) == ("5.1561", "1.6163")
    assert published["yield_basis"] == "tests"


def test_with_no_credit_the_factor_is_one_over_the_yield_and_with_one_it_is_below() -> None:
    """The same textbook's invariant."""
    plain = figures("fillet", a_primal(), a_price(), a_breakdown(a_main("fillet", "0.64"), a_loss("skin", "0.36")))
    credited = figures("fillet", a_primal(), a_price(),
                       a_breakdown(a_main("fillet", "0.64"), a_by_product("bones", "0.36", "0.50")))
    assert plain.cost_factor == 1 / Fraction("0.64")
    assert credited.cost_factor is not None
    assert credited.cost_factor < 1 / Fraction("0.64")


def test_the_chain_of_a_cut_of_a_cut_goes_down_to_what_was_bought() -> None:
    seamed_again = a_breakdown(a_main("cap-steak", "0.7"), a_loss("gristle", "0.3"), code="cap-seamed",
                               input=BreakdownInput(cut="topside-cap"))
    steak = figures("cap-steak", a_primal(), a_price(), a_seamed_topside(), seamed_again)
    assert steak.yield_fraction == Fraction("0.7")
    assert steak.chain.yield_of_ingredient == Fraction("0.07")
    assert steak.chain.ingredient == "beef-topside"
    assert steak.material_cost_per_kg is not None
    assert steak.cost_factor == steak.material_cost_per_kg / Fraction("14.20")


def test_a_primal_bought_by_the_piece_has_a_factor_of_its_price_per_kilogram() -> None:
    primal = a_primal(base_unit="each", conversions=(a_conversion("each", "8", "kg"),))
    cap = figures("cap", primal, a_price("80.00", pack_unit="each"), a_breakdown(a_main("cap", "0.5")))
    assert cap.cost_factor == 2


def test_a_free_primal_has_no_factor() -> None:
    assert figures("cap", a_primal(), a_price("0"), a_breakdown(a_main("cap", "0.5"))).cost_factor is None


def test_a_by_product_costs_its_credit_and_carries_no_share() -> None:
    fat = figures("topside-fat", a_primal(), a_price(), a_seamed_topside())
    assert (fat.cost_per_kg, fat.share_of_joint_cost, fat.cost_factor) == (Fraction("1.20"), None, None)


@pytest.mark.parametrize("method", list(Method))
def test_the_shares_of_the_carrying_cuts_add_up_to_one(method: Method) -> None:
    outputs = [a_main(f"cut-{n}", part, value, relative_value=value, finishing_cost="0.50")
               for n, (part, value) in enumerate([("0.10", "16.00"), ("0.55", "17.00"), ("0.20", "9.00")])]
    cuts = sheet(a_kitchen(a_primal(), a_price(), a_seamed_topside(*outputs, method=method)))
    assert sum(cuts.figures(output.cut).share_of_joint_cost for output in outputs) == 1


def test_under_equal_margins_every_cut_earns_the_same_part_of_its_value() -> None:
    outputs = [a_main("cap", "0.2", "16.00"), a_main("mince", "0.7", "9.00", finishing_cost="0.50")]
    cuts = sheet(a_kitchen(a_primal(), a_price("8.00"), a_seamed_topside(*outputs, method=Method.CONSTANT_MARGIN)))
    cap, mince = cuts.figures("cap").cost_per_kg, cuts.figures("mince").cost_per_kg
    assert cap is not None
    assert mince is not None
    assert cap / 16 == mince / 9


def test_a_cut_dearer_than_buying_it_ready_trimmed_is_found() -> None:
    """Half a kg at 14.20 costs 28.40 a kg: dearer than 28, cheaper than 29, and just what 28.40 would buy."""
    def found(value: str) -> list[str]:
        cut = figures("cap", a_primal(), a_price(), a_breakdown(a_main("cap", "0.5", value)))
        return [finding.code for finding in cut.findings]
    assert [found(value) for value in ("28.00", "28.40", "29.00")] == [["dearer_than_buying"], [], []]


def test_of_an_unknown_cost_nobody_can_say_that_buying_is_cheaper() -> None:
    cut = figures("cap", a_primal(), a_breakdown(a_main("cap", "0.5", "28.00")))
    assert (cut.cost_per_kg, cut.findings) == (None, ())


def test_material_alone_above_the_market_value_is_dearer_whatever_the_labour() -> None:
    breakdown = a_seamed_topside(a_main("cap", "0.5", "28.00"))
    unpaid = a_kitchen(a_primal(), a_price(), breakdown, settings=some_settings(labour_rate_per_hour=None))
    cut = sheet(unpaid).figures("cap")
    assert cut.labour_cost_per_kg is None
    assert [finding.code for finding in cut.findings] == ["dearer_than_buying"]


def test_a_cut_that_nothing_makes_has_no_figures() -> None:
    with pytest.raises(KeyError):
        figures("cap", a_primal(), a_seamed_topside(a_main("cap", "0.5"), in_use=False))
