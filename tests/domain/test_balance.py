"""What comes off the block cannot weigh more than what went onto it; every fault is told at once."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.balance import check_breakdown, check_test
from service.domain.breakdown import BreakdownInput
from service.domain.errors import (
    Fault,
    OutputNotWeighed,
    OutputsOutweighInput,
    OutputTwice,
    RecipeLoop,
    UnknownReference,
    UnknownUnit,
    WrongValue,
    YieldsAboveOne,
)
from tests.builders import a_breakdown, a_by_product, a_loss, a_main, a_yield_test

SEAMED = a_breakdown(a_main("cap", "0.10"), a_main("round", "0.75"), a_loss("silverskin", "0.05"))
TOLERANCE = Decimal("0.5")


def told(faults: list[Fault]) -> list[tuple[type[Fault], str | None]]:
    return [(type(fault), fault.pointer) for fault in faults]


def faults_of(weights: dict[str, str], input_weight: str = "10", **facts: str) -> list[Fault]:
    return check_test(SEAMED, a_yield_test(input_weight, weights, **facts), TOLERANCE)


GOOD = {"cap": "1", "round": "7.5", "silverskin": "0"}


def test_a_breakdown_that_adds_up_has_no_fault() -> None:
    assert check_breakdown(SEAMED) == []


def test_declared_yields_may_come_to_one_and_not_above() -> None:
    whole, more = (a_breakdown(a_main("cap", "0.6"), a_loss("fat", fat)) for fat in ("0.4", "0.400001"))
    assert check_breakdown(whole) == []
    [fault] = check_breakdown(more)
    assert told([fault]) == [(YieldsAboveOne, "#/outputs")]
    assert fault.more == {"sum": "1.000001"}


def test_an_output_listed_twice_is_pointed_at() -> None:
    twice = a_breakdown(a_main("cap", "0.1"), a_main("round", "0.5"), a_main("cap", "0.1"))
    assert told(check_breakdown(twice)) == [(OutputTwice, "#/outputs/2/cut")]


def test_a_breakdown_needs_outputs_and_one_input() -> None:
    nothing = a_breakdown(input=BreakdownInput())
    both = a_breakdown(a_main("cap", "0.1"), input=BreakdownInput(ingredient="beef-topside", cut="round"))
    assert told(check_breakdown(nothing)) == [(WrongValue, "#/input"), (WrongValue, "#/outputs")]
    assert told(check_breakdown(both)) == [(WrongValue, "#/input")]


def test_a_breakdown_cannot_make_its_own_input() -> None:
    [fault] = check_breakdown(a_breakdown(a_main("cap", "0.1"), input=BreakdownInput(cut="cap")))
    assert told([fault]) == [(RecipeLoop, "#/input/cut")]
    assert [(step["kind"], step["code"]) for step in fault.more["loop"]] == [
        ("breakdown", "topside-seamed"), ("cut", "cap"), ("breakdown", "topside-seamed")]


def test_a_by_product_needs_a_credit_and_zero_is_one() -> None:
    bones = a_breakdown(a_main("cap", "0.1"), a_by_product("bones", "0.2", None), a_by_product("fat", "0.1", "0"))
    assert told(check_breakdown(bones)) == [(WrongValue, "#/outputs/1/credit_value")]


def test_a_breakdown_that_carries_nothing_is_allowed() -> None:
    assert check_breakdown(a_breakdown(a_by_product("bones", "0.5", "0.32"), a_loss("drip", "0.1"))) == []


def test_values_that_a_method_will_need_are_no_matter_of_balance() -> None:
    assert check_breakdown(a_breakdown(a_main("cap", "0.1"), a_main("round", "0.2"))) == []


@pytest.mark.parametrize(("facts", "field"), [
    ({"portion_weight_kg": "0"}, "portion_weight_kg"), ({"portion_weight_kg": "-0.2"}, "portion_weight_kg"),
])
def test_a_portion_weighs_something(facts: dict[str, str], field: str) -> None:
    assert told(check_breakdown(a_breakdown(a_main("cap", "0.1", **facts)))) == [(WrongValue, f"#/outputs/0/{field}")]


def test_a_yield_is_a_fraction_and_a_percent_is_told_apart() -> None:
    faults = check_breakdown(a_breakdown(a_main("cap", "10"), a_main("round", "-0.1")))
    assert told(faults) == [(WrongValue, "#/outputs/0/expected_yield"), (WrongValue, "#/outputs/1/expected_yield"),
                            (YieldsAboveOne, "#/outputs")]


def test_a_test_that_weighs_every_output_has_no_fault() -> None:
    assert faults_of(GOOD) == []
    assert faults_of(GOOD, opened_weight="10") == []


def test_an_output_left_out_is_not_an_output_of_zero() -> None:
    [fault] = faults_of({"cap": "1"})
    assert told([fault]) == [(OutputNotWeighed, "#/outputs")]
    assert fault.more == {"cuts": ["round", "silverskin"]}


def test_an_output_that_the_breakdown_has_not_is_refused_by_name() -> None:
    [fault] = faults_of({**GOOD, "tongue": "0.1"})
    assert told([fault]) == [(UnknownReference, "#/outputs/3/cut")]
    assert "cap, round, silverskin" in fault.detail


def test_outputs_may_outweigh_the_input_by_the_scales_tolerance() -> None:
    assert faults_of({"cap": "1", "round": "9.05", "silverskin": "0"}) == []
    [fault] = faults_of({"cap": "1", "round": "9.050001", "silverskin": "0"})
    assert told([fault]) == [(OutputsOutweighInput, "#/outputs")]
    assert fault.more == {"outputs_weight": "10.050001", "input_weight": "10", "unit": "kg", "tolerance_percent": "0.5"}
    assert "10.050001 kg" in fault.detail


def test_outputs_cannot_outweigh_what_was_left_after_draining() -> None:
    [fault] = faults_of({"cap": "1", "round": "8.7", "silverskin": "0"}, opened_weight="9.5")
    assert told([fault]) == [(OutputsOutweighInput, "#/outputs")]
    assert fault.more["opened_weight"] == "9.5"


@pytest.mark.parametrize("opened", ["10.001", "0"])
def test_draining_adds_no_weight_and_leaves_some(opened: str) -> None:
    assert told(faults_of(GOOD, opened_weight=opened)) == [(WrongValue, "#/opened_weight")]


def test_a_test_is_weighed_and_not_measured_or_counted() -> None:
    assert told(faults_of(GOOD, unit="l")) == [(WrongValue, "#/unit")]
    assert told(faults_of(GOOD, unit="stone")) == [(UnknownUnit, "#/unit")]


def test_all_that_is_wrong_with_a_test_is_told_at_once() -> None:
    faults = faults_of({"cap": "-1", "tongue": "3"}, input_weight="0")
    assert {kind for kind, _ in told(faults)} == {UnknownReference, OutputNotWeighed, WrongValue}
    assert [pointer for _, pointer in told(faults)] == [
        "#/outputs/1/cut", "#/outputs", "#/input_weight", "#/outputs/0/weight"]


def test_the_tests_that_count_are_chosen_in_one_way() -> None:
    day = date(2026, 3, 1)
    both = check_breakdown(a_breakdown(a_main("cap", "1"), yields_from_last_tests=5, yields_from_tests_since=day))
    assert [fault.pointer for fault in both] == ["#/yields_from_tests_since"]
    assert "null for one of" in both[0].detail
    none = check_breakdown(a_breakdown(a_main("cap", "1"), yields_from_last_tests=0))
    assert [(fault.pointer, "at least 1" in fault.detail) for fault in none] == [("#/yields_from_last_tests", True)]
    for one in ({"yields_from_last_tests": 1}, {"yields_from_tests_since": day}):
        assert check_breakdown(a_breakdown(a_main("cap", "1"), **one)) == []
