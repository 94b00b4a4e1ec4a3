"""The five methods and one conservation law. Judges: what each method promises (a kilogram is a kilogram, cost in
proportion to value, equal margins), checked on the unit costs and not on the way to them."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.allocation import Allocation, Carrier, allocate, carrier_of, dearer_than_buying
from service.domain.breakdown import Method
from tests.builders import a_main
from tests.strategies import amounts, carriers

METHODS = st.sampled_from(Method)
POOL_M, POOL_L = Fraction("14.2"), Fraction("1.15")


def a_carrier(cut: str, yield_fraction: str, market_value: str | None = None, finishing: str = "0",
              split_off: str | None = None, relative: str | None = None) -> Carrier:
    def exact(value: str | None) -> Fraction | None:
        return None if value is None else Fraction(value)

    values = exact(market_value), exact(split_off), exact(relative)
    return Carrier(cut, Fraction(yield_fraction), Fraction(finishing), *values)


def material(allocation: Allocation, cut: str, pool: Fraction = POOL_M) -> Fraction:
    return allocation.carried[cut].material_per_pool * pool


def unit_cost(allocation: Allocation, cut: str, pool_m: Fraction = POOL_M, pool_l: Fraction = POOL_L) -> Fraction:
    carried = allocation.carried[cut]
    return carried.material_per_pool * pool_m + carried.labour_per_pool * pool_l + carried.labour_constant


def codes(allocation: Allocation) -> list[tuple[str, str | None]]:
    return sorted((gap.code, gap.cut or "") for gap in allocation.gaps)


ROUND = a_carrier("inside-round", "0.5", "20", "1", relative="3")
CAP = a_carrier("cap", "0.1", "16", "0", relative="2")
MINCE = a_carrier("mince", "0.2", "9", "1.5", relative="1")
WORTHLESS = a_carrier("sinew", "0.05", "1", "2", relative="0")


def test_by_weight_a_kilogram_is_a_kilogram() -> None:
    allocation = allocate(Method.WEIGHT, [ROUND, CAP, MINCE])
    assert {material(allocation, carrier.cut) for carrier in (ROUND, CAP, MINCE)} == {POOL_M / Fraction("0.8")}


def test_dear_muscles_carry_more_of_the_cost_by_market_value() -> None:
    allocation = allocate(Method.MARKET_VALUE, [ROUND, CAP, MINCE])
    assert material(allocation, "inside-round") / material(allocation, "mince") == Fraction(20 - 1) / Fraction("7.5")


def test_a_given_split_off_value_goes_before_the_value_less_finishing() -> None:
    as_cut = replace(MINCE, split_off_value=Fraction(4))
    by_market = allocate(Method.MARKET_VALUE, [ROUND, as_cut])
    by_realisable = allocate(Method.NET_REALISABLE_VALUE, [ROUND, as_cut])
    assert material(by_market, "inside-round") / material(by_market, "mince") == Fraction(19, 4)
    assert material(by_realisable, "inside-round") / material(by_realisable, "mince") == Fraction(19) / Fraction("7.5")


def test_a_split_off_value_is_enough_by_market_value() -> None:
    unpriced = replace(MINCE, market_value=None, split_off_value=Fraction(4))
    assert allocate(Method.MARKET_VALUE, [ROUND, unpriced]).gaps == ()


def test_relative_values_are_the_kitchens_own() -> None:
    allocation = allocate(Method.RELATIVE_VALUE, [ROUND, CAP, MINCE])
    assert [material(allocation, cut) / material(allocation, "mince") for cut in ("inside-round", "cap")] == [3, 2]


@pytest.mark.parametrize("method", list(Method))
def test_finishing_is_labour_and_never_material(method: Method) -> None:
    plain = allocate(method, [ROUND, CAP, replace(MINCE, split_off_value=Fraction("7.5"))])
    for carrier in (ROUND, CAP, MINCE):
        assert plain.carried[carrier.cut].material_per_pool == plain.carried[carrier.cut].labour_per_pool
    assert sum(material(plain, c.cut) * c.yield_fraction for c in (ROUND, CAP, MINCE)) == POOL_M


def test_under_constant_margin_every_output_earns_the_same_on_its_value() -> None:
    allocation = allocate(Method.CONSTANT_MARGIN, [ROUND, CAP, MINCE])
    margins = {1 - unit_cost(allocation, c.cut) / c.market_value for c in (ROUND, CAP, MINCE) if c.market_value}
    assert len(margins) == 1
    assert {carried.share for carried in allocation.carried.values()} == {None}


@pytest.mark.parametrize("method", list(Method))
def test_what_is_carried_names_its_cut_and_shares_make_one(method: Method) -> None:
    """By market value the round carries 0.5 x 19 of 9.5 + 1.6 + 1.5; margins that are equal have no shares."""
    carried = allocate(method, [ROUND, CAP, MINCE]).carried
    assert [each.cut for each in carried.values()] == list(carried) == ["inside-round", "cap", "mince"]
    if method is Method.MARKET_VALUE:
        assert carried["inside-round"].share == Fraction("9.5") / Fraction("12.6")


@pytest.mark.parametrize("method", list(Method))
def test_one_carrying_output_needs_no_values(method: Method) -> None:
    allocation = allocate(method, [a_carrier("thawed-fillet", "0.92", finishing="0.4")])
    assert allocation.gaps == ()
    assert allocation.findings == ()
    assert allocation.carried["thawed-fillet"].share == 1
    assert unit_cost(allocation, "thawed-fillet") == (POOL_M + POOL_L) / Fraction("0.92") + Fraction("0.4")


@pytest.mark.parametrize("method", [Method.MARKET_VALUE, Method.NET_REALISABLE_VALUE])
def test_what_costs_more_to_finish_than_it_is_worth_costs_its_finishing_only(method: Method) -> None:
    with_it, without = allocate(method, [ROUND, MINCE, WORTHLESS]), allocate(method, [ROUND, MINCE])
    assert unit_cost(with_it, "sinew") == WORTHLESS.finishing_cost
    assert with_it.carried["sinew"].share == 0
    assert [(f.code, f.cut) for f in with_it.findings] == [("costs_more_to_finish_than_worth", "sinew")]
    assert with_it.findings[0].detail.startswith("sinew has nothing of value")
    assert with_it.carried["mince"] == without.carried["mince"]


def test_under_constant_margin_a_nil_value_keeps_its_own_finishing_and_the_others_share_the_rest() -> None:
    given_away = replace(WORTHLESS, market_value=Fraction(0))
    with_it = allocate(Method.CONSTANT_MARGIN, [ROUND, MINCE, given_away])
    assert unit_cost(with_it, "sinew") == 2
    assert with_it.carried["mince"] == allocate(Method.CONSTANT_MARGIN, [ROUND, MINCE]).carried["mince"]
    assert [f.cut for f in with_it.findings] == ["sinew"]


def test_under_constant_margin_a_value_below_the_finishing_still_has_the_common_margin() -> None:
    allocation = allocate(Method.CONSTANT_MARGIN, [ROUND, WORTHLESS])
    assert unit_cost(allocation, "sinew") * 20 == unit_cost(allocation, "inside-round") * 1
    assert allocation.findings == ()


@pytest.mark.parametrize("method", [m for m in Method if m is not Method.WEIGHT])
def test_nothing_to_share_on_is_a_gap_for_every_cut(method: Method) -> None:
    nil = [a_carrier(cut, "0.2", "0", relative="0") for cut in "ab"]
    allocation = allocate(method, nil)
    assert [(gap.code, gap.cut, gap.about) for gap in allocation.gaps] == [("nothing_carries_the_cost", None, None)]
    assert "choose another method" in allocation.gaps[0].detail
    assert (allocation.carried, allocation.findings) == ({}, ())


@pytest.mark.parametrize("method", list(Method))
def test_a_breakdown_of_by_products_and_losses_has_nothing_that_carries(method: Method) -> None:
    assert codes(allocate(method, [])) == [("nothing_carries_the_cost", "")]


@pytest.mark.parametrize("method", list(Method))
def test_a_yield_of_zero_is_a_gap_for_that_cut_alone(method: Method) -> None:
    none_of_it = replace(CAP, yield_fraction=Fraction(0))
    allocation = allocate(method, [ROUND, none_of_it, MINCE])
    assert [(gap.code, gap.cut, gap.about) for gap in allocation.gaps] == [("no_yield", "cap", "cap")]
    assert allocation.gaps[0].detail.startswith("cap has a yield of zero")
    assert allocation.carried == allocate(method, [ROUND, MINCE]).carried


def test_where_nothing_weighs_anything_each_cut_says_so_itself() -> None:
    allocation = allocate(Method.WEIGHT, [replace(c, yield_fraction=Fraction(0)) for c in (ROUND, CAP)])
    assert codes(allocation) == [("no_yield", "cap"), ("no_yield", "inside-round")]


@pytest.mark.parametrize(("method", "named"), [
    (Method.MARKET_VALUE, "split_off_value or market_value"), (Method.NET_REALISABLE_VALUE, "market_value"),
    (Method.CONSTANT_MARGIN, "market_value"), (Method.RELATIVE_VALUE, "relative_value"),
])
def test_one_missing_value_leaves_every_cut_without_a_figure_and_is_named(method: Method, named: str) -> None:
    unpriced = [a_carrier("heel", "0.05"), a_carrier("tail", "0.03")]
    allocation = allocate(method, [ROUND, *unpriced])
    assert allocation.carried == {}
    assert [(gap.code, gap.cut, gap.about) for gap in allocation.gaps] == [
        ("missing_value", None, "heel"), ("missing_value", None, "tail")]
    assert all(f"{gap.about} has no {named}, which the method {method} " in gap.detail for gap in allocation.gaps)


def test_by_weight_no_value_is_missing() -> None:
    assert allocate(Method.WEIGHT, [a_carrier("heel", "0.05"), a_carrier("tail", "0.03")]).gaps == ()


def test_an_output_becomes_a_carrier_at_its_yield() -> None:
    output = a_main("cap", "0.10", "16.00", finishing_cost="0.5", relative_value="2")
    assert carrier_of(output, Fraction(1, 9)) == Carrier(
        "cap", Fraction(1, 9), Fraction("0.5"), Fraction(16), None, Fraction(2))


def test_dearer_than_buying_is_judged_on_the_published_figures() -> None:
    value = Fraction("16.0000")
    assert not dearer_than_buying(Fraction("16.00004"), value)
    assert dearer_than_buying(Fraction("16.00005"), value)
    assert not dearer_than_buying(Fraction(99), None)


@given(METHODS, carriers(smallest=1), amounts(), amounts())
def test_cost_is_conserved_to_the_last_digit_by_every_method(
        method: Method, outputs: list[Carrier], pool_m: Fraction, pool_l: Fraction) -> None:
    allocation = allocate(method, outputs)
    without_figure = {gap.cut for gap in allocation.gaps}
    if None in without_figure or all(o.yield_fraction == 0 for o in outputs):
        assert allocation.carried == {}
        return
    carried = sum(unit_cost(allocation, o.cut, pool_m, pool_l) * o.yield_fraction
                  for o in outputs if o.cut in allocation.carried)
    assert carried == pool_m + pool_l + sum(o.finishing_cost * o.yield_fraction for o in outputs)
    assert {o.cut for o in outputs} == set(allocation.carried) | without_figure


@given(METHODS, carriers(), amounts())
def test_material_alone_is_conserved_too(method: Method, outputs: list[Carrier], pool_m: Fraction) -> None:
    allocation = allocate(method, outputs)
    if allocation.carried:
        assert sum(material(allocation, o.cut, pool_m) * o.yield_fraction
                   for o in outputs if o.cut in allocation.carried) == pool_m


@given(METHODS, carriers(missing_values=True), st.randoms())
def test_the_order_of_the_outputs_never_matters(method: Method, outputs: list[Carrier], shuffler) -> None:
    shuffled = list(outputs)
    shuffler.shuffle(shuffled)
    here, there = allocate(method, outputs), allocate(method, shuffled)
    assert here.carried == there.carried
    assert set(here.gaps) == set(there.gaps)
    assert set(here.findings) == set(there.findings)


@given(METHODS, carriers(missing_values=True), st.sampled_from([Fraction(2), Fraction(1, 3), Fraction(100)]))
def test_all_values_and_finishing_doubled_change_no_share(
        method: Method, outputs: list[Carrier], times: Fraction) -> None:
    def scaled(value: Fraction | None) -> Fraction | None:
        return None if value is None else value * times

    dearer = [replace(o, market_value=scaled(o.market_value), split_off_value=scaled(o.split_off_value),
                      relative_value=scaled(o.relative_value), finishing_cost=o.finishing_cost * times)
              for o in outputs]
    here, there = allocate(method, outputs), allocate(method, dearer)
    assert {c.cut: (c.share, c.material_per_pool) for c in here.carried.values()} == {
        c.cut: (c.share, c.material_per_pool) for c in there.carried.values()}
    assert here.gaps == there.gaps


@given(METHODS, carriers(missing_values=True))
def test_every_cut_has_a_figure_or_a_gap_and_shares_make_one(method: Method, outputs: list[Carrier]) -> None:
    allocation = allocate(method, outputs)
    told = {gap.cut for gap in allocation.gaps}
    assert all(o.cut in allocation.carried or o.cut in told or None in told for o in outputs)
    shares = [carried.share for carried in allocation.carried.values() if carried.share is not None]
    assert not shares or sum(shares) == 1


@given(carriers(), amounts(), amounts())
def test_margins_are_equal_wherever_there_is_a_value(
        outputs: list[Carrier], pool_m: Fraction, pool_l: Fraction) -> None:
    allocation = allocate(Method.CONSTANT_MARGIN, outputs)
    rates = {unit_cost(allocation, o.cut, pool_m, pool_l) / o.market_value
             for o in outputs if o.cut in allocation.carried and o.market_value}
    assert len(rates) <= 1
