"""One sheet says what a piece gives, what each part costs and what it is good for; a plan not in use has no costs."""

from typing import Any

from service.domain.breakdown import BreakdownInput, YieldsFrom
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.cutting_sheet import cutting_sheet
from service.domain.kitchen import KitchenOnDay
from tests.builders import (
    a_by_product,
    a_conversion,
    a_kitchen,
    a_loss,
    a_main,
    a_price,
    a_primal,
    a_seamed_topside,
    a_yield_test,
    some_trim,
)

EACH = (a_conversion("each", "8.4", "kg"),)
OUTPUTS = (a_main("topside-cap", "0.10", "16.00", portion_weight_kg="0.267", uses=("grill", "sear")),
           a_main("topside-roast", "0.60", "17.00"), some_trim("topside-mince", "0.18", "9.00"),
           a_by_product("topside-fat", "0.06", "1.20"), a_loss("topside-silverskin", "0.04", disposal_cost="0.10"))
WEIGHTS = {"topside-cap": "0.84", "topside-roast": "5.04", "topside-mince": "1.512", "topside-fat": "0.504",
           "topside-silverskin": "0.336"}


def a_sheet_kitchen(*more: Any, **facts: Any) -> KitchenOnDay:
    seamed = a_seamed_topside(*OUTPUTS, **{"steps": ("Lay the piece with the cap upwards.", "Lift the cap."), **facts})
    return a_kitchen(a_primal(conversions=EACH), a_price("14.20"), seamed, *more)


def sheet(kitchen: KitchenOnDay, code: str = "topside-seamed") -> dict[str, Any]:
    return cutting_sheet(code, kitchen, cascade(compile_network(kitchen))).as_published()


def line(published: dict[str, Any], cut: str) -> dict[str, Any]:
    return next(line for line in published["outputs"] if line["cut"] == cut)


def test_a_sheet_says_what_each_part_weighs_costs_and_is_good_for() -> None:
    published = sheet(a_sheet_kitchen())
    cap = line(published, "topside-cap")
    assert (cap["uses"], cap["yield"], cap["kg_per_piece"], cap["portions_per_piece"], cap["tail_kg"]) == (
        ["grill", "sear"], "0.1000", "0.8400", 3, "0.0390")
    assert [output["kg_per_piece"] for output in published["outputs"]] == [
        "0.8400", "5.0400", "1.5120", "0.5040", "0.3360"]
    assert (published["unaccounted"], published["unaccounted_kg_per_piece"]) == ("0.0200", "0.1680")


def test_the_parts_cost_what_the_piece_and_the_work_on_it_do() -> None:
    """A piece is 8.4 x (14.20 + 0.04 x 0.10 for disposal) and 8.4 x 1.20 of work; what it gives carries all of that."""
    published = sheet(a_sheet_kitchen())
    carried = sum(float(output["cost_per_piece"]) for output in published["outputs"] if output["cost_per_piece"])
    assert abs(carried - 8.4 * (14.20 + 0.004 + 1.20)) < 0.001


def test_a_loss_has_a_weight_and_no_cost_and_a_by_product_its_credit() -> None:
    published = sheet(a_sheet_kitchen())
    silverskin, fat = line(published, "topside-silverskin"), line(published, "topside-fat")
    assert (silverskin["cost_per_kg"], silverskin["disposal_cost"]) == (None, "0.1000")
    assert (fat["cost_per_kg"], fat["credit_value"]) == ("1.2000", "1.2000")


def test_steps_stand_beside_the_cautions() -> None:
    published = sheet(a_sheet_kitchen())
    assert published["steps"] == ["Lay the piece with the cap upwards.", "Lift the cap."]
    cautions = {caution["code"]: caution for caution in published["cautions"]}
    assert set(cautions) == {"knives", "cold", "mince", "scales", "plan"}
    assert "FDA Food Code 3-401.11" in cautions["mince"]["source"]
    assert "Regulation (EC) 853/2004, annex III, section V" in cautions["mince"]["source"]
    assert "5 C or below" in cautions["cold"]["text"]
    assert "legal for trade" in cautions["scales"]["text"]
    assert "HACCP plan" in cautions["plan"]["text"]


def test_tests_show_how_sure_a_yield_is_and_what_drained_off() -> None:
    """Paid for 8.4 and 8.6 kg, 8.2 and 8.4 when opened: 0.4 of 17 kg is purge; the outputs weigh 8.232 each."""
    kitchen = a_sheet_kitchen(
        a_yield_test("8.4", WEIGHTS, opened_weight="8.2"), a_yield_test("8.6", WEIGHTS, opened_weight="8.4"),
        yields_from=YieldsFrom.TESTS)
    published = sheet(kitchen)
    assert (published["yield_basis"], published["tests"], published["piece_weight_kg"]) == ("tests", 2, "8.5000")
    assert published["purge"] == "0.0235"
    cap = line(published, "topside-cap")
    assert (cap["tests"], cap["yield"]) == (2, "0.0988")
    low, high = cap["interval_95"]
    assert float(low) < 0.0988 < float(high)


def test_one_test_gives_no_error_and_no_interval() -> None:
    cap = line(sheet(a_sheet_kitchen(a_yield_test("8.4", WEIGHTS), yields_from=YieldsFrom.TESTS)), "topside-cap")
    assert (cap["tests"], cap["standard_error"], cap["interval_95"]) == (1, None, None)


def test_the_sheet_of_a_cut_broken_down_again_starts_from_the_piece_bought() -> None:
    again = a_seamed_topside(a_main("cap-steak", "0.64", "22", portion_weight_kg="0.17"), code="cap-trimmed",
                             input=BreakdownInput(cut="topside-cap"))
    published = sheet(a_sheet_kitchen(again), "cap-trimmed")
    assert (published["ingredient"], published["piece_weight_kg"], published["input_kg_per_piece"]) == (
        "beef-topside", "8.4000", "0.8400")
    assert (line(published, "cap-steak")["kg_per_piece"], line(published, "cap-steak")["portions_per_piece"]) == (
        "0.5376", 3)


def test_without_a_weight_of_the_piece_the_sheet_is_per_kg_of_input() -> None:
    published = sheet(a_kitchen(a_primal(), a_price(), a_seamed_topside()))
    assert (published["piece_weight_kg"], published["piece_weight_basis"]) == (None, None)
    assert {output["kg_per_piece"] for output in published["outputs"]} == {None}
    assert line(published, "topside-cap")["yield"] == "0.1000"


def test_a_plan_that_is_not_in_use_has_portions_and_no_costs() -> None:
    published = sheet(a_sheet_kitchen(in_use=False))
    cap = line(published, "topside-cap")
    assert (published["in_use"], cap["kg_per_piece"], cap["cost_per_kg"], cap["portions_per_piece"]) == (
        False, "0.8400", None, 3)
