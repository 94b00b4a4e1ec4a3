"""A yield test looked at before it is recorded: figures in its own unit, warnings in words."""

from datetime import date
from typing import Any

import pytest

from service.domain.breakdown import YieldsFrom
from service.domain.errors import NotFound, Refused
from service.use_cases.check_yield_test import check_yield_test
from tests.builders import a_breakdown, a_kitchen, a_loss, a_main, a_yield_test, some_settings, some_trim
from tests.recorded import recorded

TODAY = date(2026, 3, 2)
PLAN = a_breakdown(a_main("round", "0.70"), some_trim("dice", "0.18"), a_loss("skin", "0.08"),
                   yields_from=YieldsFrom.TESTS)


def check(cut: str = "14", trim: str = "3.6", skin: str = "1.6", paid: str = "20", **facts: Any) -> dict[str, Any]:
    test = a_yield_test(paid, {"round": cut, "dice": trim, "skin": skin}, **{"unit": "lb", **facts})
    kitchen = recorded(a_kitchen(PLAN, settings=some_settings()))
    return check_yield_test(kitchen, test, TODAY)


def test_a_weight_comes_with_what_is_expected_of_it_in_the_test_s_own_unit() -> None:
    """Of 20 lb: 70 % is 14, and 8 points are 1.6; 4 % is 0.8, expected from -0.5 % to twice 4 and 2 points."""
    document = check()
    assert document["outputs"][0] == {
        "cut": "round", "name": "round", "role": "main", "weight": "14.0000", "percent": "70.00", "yield": "0.7000",
        "in_line": True, "basis": "declared", "usual_yield": "0.7000", "expected_yield": ["0.6200", "0.7800"],
        "expected_weight": ["12.4000", "15.6000"]}
    assert document["unaccounted"] == {
        "weight": "0.8000", "percent": "4.00", "yield": "0.0400", "in_line": True, "basis": "declared",
        "usual_yield": "0.0400", "expected_yield": ["-0.0050", "0.1000"], "expected_weight": ["-0.1000", "2.0000"]}
    assert (document["in_line"], document["warnings"], document["confirmation_needed"]) == (True, [], False)
    assert (document["confirm_above_percent"], document["drained"], document["unit"]) == ("13.00", None, "lb")


def test_a_weight_out_of_line_is_warned_of_at_its_place() -> None:
    document = check(trim="2.8", skin="2.4")
    assert [(one["code"], one["cut"], one["pointer"]) for one in document["warnings"]] == [
        ("lean_into_the_bin", None, "#/outputs"),
        ("out_of_line", "dice", "#/outputs/1/weight"), ("out_of_line", "skin", "#/outputs/2/weight")]
    assert [one["text"] for one in document["warnings"]] == [
        "Loss up while trim is down is the sign that lean goes into the bin: look at what was cut away before it is "
        "thrown out.",
        "dice: 2.800 lb (14.00 %) is less than is expected, at least 3.040 lb.",
        "skin: 2.400 lb (12.00 %) is more than is expected, at most 1.960 lb."]
    assert not document["in_line"]


def test_much_that_is_missing_is_told_with_the_figures_and_the_mend() -> None:
    document = check("11")
    assert document["confirmation_needed"]
    last = document["warnings"][-1]
    assert (last["code"], last["pointer"]) == ("confirmation_needed", "#/unaccounted_confirmed")
    assert last["text"] == ("3.800 lb of the input (19.00 %) is in no output; usually it is 4.00 %. Weigh again; if it "
                            "is so, say unaccounted_confirmed: true.")


def test_grams_are_told_whole_and_what_drained_off_apart() -> None:
    document = check("11000", "3600", "1600", "20000", unit="g", opened_weight="17000")
    assert document["drained"] == {"weight": "3000.0000", "percent": "15.00"}
    assert not document["confirmation_needed"]
    assert "round: 11000 g (55.00 %) is less than is expected, at least 12400 g." in [
        one["text"] for one in document["warnings"]]


def test_what_recording_refuses_is_refused_alike() -> None:
    with pytest.raises(Refused) as refused:
        check("16", tested_on=date(2026, 3, 3))
    assert [fault.pointer for fault in refused.value.faults] == ["#/tested_on", "#/outputs"]
    with pytest.raises(NotFound, match="rump"):
        check_yield_test(recorded(a_kitchen(PLAN)), a_yield_test("1", {}, breakdown="rump"), TODAY)
