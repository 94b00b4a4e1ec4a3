"""What lean in the bin costs. Judges: the kitchen compiled again at other yields, and money that has to add up."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.breakdown import Breakdown, Method, Role
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.history import Mark
from service.domain.kitchen import KitchenOnDay
from service.domain.lean_in_the_bin import lean_in_the_bin
from service.domain.lean_loss import LeanLosses, lean_lost
from service.domain.yields import yields_of
from tests.builders import (
    NEW_YEAR,
    a_breakdown,
    a_by_product,
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
from tests.kitchens import kitchens

POINT = Fraction(1, 100)
PLAN = a_seamed_topside(
    a_main("cap", "0.10", "16.00", relative_value="3"), a_main("roast", "0.60", "17.00", relative_value="2"),
    some_trim("mince", "0.18", "9.00", finishing_cost="0.40", relative_value="1"), a_by_product("fat", "0.06", "1.20"),
    a_loss("silverskin", "0.03", disposal_cost="0.20"), a_loss("bone", "0.01", disposal_cost="0.60"))


def a_house(plan: Breakdown = PLAN) -> KitchenOnDay:
    return a_kitchen(a_primal(), a_price("14.20"), plan)


def losses_of(plan: Breakdown = PLAN, kitchen: KitchenOnDay | None = None) -> LeanLosses:
    kitchen = kitchen or a_house(plan)
    yields = yields_of(plan, kitchen.yield_tests.get(plan.code, ()), kitchen.day)
    return LeanLosses(plan, yields, kitchen, cascade(compile_network(kitchen)))


def with_yields(plan: Breakdown, **yields: str) -> Breakdown:
    return replace(plan, outputs=tuple(
        replace(output, expected_yield=Decimal(yields.get(output.cut, str(output.expected_yield))))
        for output in plan.outputs))


@pytest.mark.parametrize("method", Method)
def test_costs_after_are_those_of_the_kitchen_at_the_other_yields(method: Method) -> None:
    """A point of mince joins silverskin and bone as 3 to 1."""
    plan = replace(PLAN, method=method)
    found = losses_of(plan).of({"mince": POINT})
    other = a_house(with_yields(plan, mince="0.17", silverskin="0.0375", bone="0.0125"))
    after, before = cascade(compile_network(other)), cascade(compile_network(a_house(plan)))
    assert found.after is not None
    for cut in ("cap", "roast", "mince"):
        for costing, said in ((before, found.before), (after, found.after)):
            figures = costing.figures(("cut", cut))
            assert figures.material is not None
            assert figures.labour is not None
            assert said.per_kg[cut] == figures.material + figures.labour


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(Method), st.sampled_from(["cap", "roast", "mince"]), st.fractions(0, 4, max_denominator=50))
def test_what_is_left_bears_what_the_lost_lean_had_cost(method: Method, cut: str, points: Fraction) -> None:
    """Cost is conserved: what a kg of it cost, less the finishing it did not get, and the disposal of it."""
    losses = losses_of(replace(PLAN, method=method))
    found, finishing = losses.of({cut: points / 100}), Fraction("0.40") if cut == "mince" else 0
    assert found.disposal == Fraction("0.30")
    if points:
        assert found.borne_per_kg_of_input == points / 100 * (
            (losses.now.per_kg[cut] or 0) - finishing + found.disposal)


def test_what_it_was_worth_is_its_market_value_less_its_finishing_and_what_disposal_costs() -> None:
    found = losses_of().of({"mince": 2 * POINT})
    assert (found.market_value, found.value) == (9, Fraction("8.60"))
    assert found.value_per_kg_of_input == Fraction("0.02") * (Fraction("8.60") + Fraction("0.30"))


def test_all_lean_together_loses_in_proportion_to_its_yields() -> None:
    losses = losses_of()
    taken = losses.in_proportion(POINT)
    assert taken == {"cap": POINT * 10 / 88, "roast": POINT * 60 / 88, "mince": POINT * 18 / 88}
    assert losses.in_proportion(POINT, Role.TRIM) == {"mince": POINT}
    found = losses.of(taken)
    assert found.value == (10 * 16 + 60 * 17 + 18 * Fraction("8.60")) / 88
    before, after, rise = found.cost_per_kg(None)
    assert before is not None
    assert after is not None
    assert rise == after - before
    assert found.borne_per_kg_of_input == rise * Fraction("0.87")


def test_what_is_missing_is_a_gap_and_the_rest_stands() -> None:
    by_weight = replace(PLAN, method=Method.WEIGHT, outputs=tuple(
        replace(output, market_value=None) if output.cut == "cap" else output for output in PLAN.outputs))
    cap, roast = (losses_of(by_weight).of({cut: POINT}) for cut in ("cap", "roast"))
    assert (cap.value_per_kg_of_input, [(gap.code, gap.record) for gap in cap.gaps]) == (
        None, [("missing_value", "cap")])
    assert cap.borne_per_kg_of_input
    assert (roast.gaps, roast.value) == ((), 17)
    unpriced = losses_of(kitchen=a_kitchen(a_primal(), PLAN)).of({"cap": POINT})
    assert (unpriced.borne_per_kg_of_input, [gap.code for gap in unpriced.gaps]) == (None, ["no_price"])
    assert unpriced.value == 16


def test_without_a_labour_rate_there_is_a_value_and_no_cost() -> None:
    kitchen = a_kitchen(a_primal(), a_price("14.20"), PLAN, settings=some_settings(labour_rate_per_hour=None))
    found = losses_of(kitchen=kitchen).of({"cap": POINT})
    assert (found.value, found.borne_per_kg_of_input) == (16, None)
    assert [gap.code for gap in found.gaps] == ["no_labour_rate"]


def test_more_than_there_is_cannot_be_lost() -> None:
    found = losses_of().of({"cap": Fraction("0.11")})
    assert [(gap.code, gap.record) for gap in found.gaps] == [("less_than_lost", "cap")]
    assert (found.after, found.borne_per_kg_of_input, found.value_per_kg_of_input) == (None, None, None)
    whole = losses_of().of({"cap": Fraction("0.10")})
    assert whole.gaps == ()
    assert whole.cost_per_kg("cap")[1:] == (None, None)
    assert whole.borne_per_kg_of_input


def test_a_breakdown_without_a_loss_has_it_unaccounted_for() -> None:
    plan = a_breakdown(a_main("loin", "0.9", "20"), some_trim("dice", "0.05", "10"))
    found = losses_of(plan).of({"dice": POINT})
    assert found.disposal == 0
    assert found.value_per_kg_of_input == Fraction("0.10")


def test_one_that_is_not_in_use_is_costed_as_if_it_were() -> None:
    aside = replace(PLAN, in_use=False)
    assert losses_of(aside).of({"cap": POINT}) == losses_of().of({"cap": POINT})


@settings(max_examples=25, deadline=None)
@given(kitchens())
def test_costs_now_are_those_of_every_kitchen(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for plan in kitchen.breakdowns.values():
        losses = losses_of(plan, kitchen)
        for output in losses.lean:
            if plan.in_use and losses.yields.fractions[output.cut]:
                figures = costing.figures(("cut", output.cut))
                known = figures.material is not None and figures.labour is not None
                assert losses.now.per_kg[output.cut] == (
                    (figures.material or 0) + (figures.labour or 0) if known else None)
                assert known or losses.now.gaps


def test_the_sign_of_lean_in_the_bin_comes_to_what_trim_fell_by() -> None:
    """Per kg that was paid for: of 9.5 kg on the block, where 10 kg were paid for."""
    plan = a_breakdown(a_main("round", "0.7"), some_trim("dice", "0.2"), a_loss("skin", "0.08"))
    tests = [a_yield_test("10", {"round": "7", "dice": dice, "skin": skin}, opened_weight="9.5", made=Mark(n, 1),
                          tested_on=NEW_YEAR + timedelta(n))
             for n, (dice, skin) in enumerate((("2.0", "0.4"), ("2.01", "0.4"), ("1.8", "0.7"), ("1.81", "0.6")), 1)]
    seen = lean_in_the_bin(plan, tests)
    assert seen is not None
    assert lean_lost(seen) == Fraction("0.02")
