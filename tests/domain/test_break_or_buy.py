"""Break or buy, which way, and whether to finish further: worked by hand, and held to what must always be."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from service.domain.break_or_buy import BreakOrBuy, Cheaper, finishing_of
from service.domain.breakdown import BreakdownInput, Method
from service.domain.breakdown_pools import InputCost, input_cost
from service.domain.breakdown_value import value_of
from service.domain.cascade import Costing, cascade
from service.domain.comparison_of_breakdowns import SideOfBreakdown, of_the_same_input, side_by_side
from service.domain.compile import compile_network
from service.domain.cut_figures import CutSheet
from service.domain.kitchen import KitchenOnDay
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_kitchen,
    a_loss,
    a_main,
    a_price,
    a_primal,
    a_seamed_topside,
    a_topside_kitchen,
    some_settings,
    some_trim,
)
from tests.kitchens import kitchens

TEN = Fraction(10)
some = settings(max_examples=30, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def costs(kitchen: KitchenOnDay) -> Costing:
    return cascade(compile_network(kitchen))


def of(kitchen: KitchenOnDay, code: str = "topside-seamed", kg: Fraction = TEN,
       used: dict[str, Fraction] | None = None) -> BreakOrBuy:
    costing, breakdown = costs(kitchen), kitchen.breakdowns[code]
    value = value_of(breakdown, CutSheet(kitchen, costing).yields(breakdown), kitchen.settings, kg, used)
    return BreakOrBuy(value, input_cost(breakdown, kitchen, costing))


def sides(kitchen: KitchenOnDay, code: str = "topside-seamed") -> dict[str, SideOfBreakdown]:
    costing, breakdown = costs(kitchen), kitchen.breakdowns[code]
    found = side_by_side(breakdown, of_the_same_input(breakdown, kitchen), kitchen, CutSheet(kitchen, costing),
                         input_cost(breakdown, kitchen, costing))
    return {side.breakdown.code: side for side in found}


def paid(kitchen: KitchenOnDay, per_kg: Fraction) -> InputCost:
    return replace(of(kitchen).input_cost, material=per_kg)


def test_a_topside_of_ten_kilograms_against_buying_all_its_cuts() -> None:
    """1 kg of cap at 16.00, 6 of roast at 17.00, 1.8 of mince at 9.00 finished for 0.40 and 0.6 of fat at 1.20: buying
    costs 134.20; breaking 142.00 + 0.72 - 0.72, and 30 minutes at 24.00 an hour."""
    compared = of(a_topside_kitchen())
    assert compared.value.cuts == Fraction("134.20")
    assert compared.without_labour.breaking == Fraction("142.00")
    assert compared.with_labour.breaking == Fraction("154.00")
    assert compared.with_labour.saved == Fraction("-19.80")
    assert compared.with_labour.stops_paying_at == Fraction("12.22")
    assert compared.without_labour.stops_paying_at == Fraction("13.42")
    assert (compared.with_labour.cheaper, compared.without_labour.cheaper) == (Cheaper.BUYING, Cheaper.BUYING)


@pytest.mark.parametrize(("price", "cheaper"), [
    ("12.2199", Cheaper.BREAKING), ("12.22", Cheaper.SAME), ("12.2201", Cheaper.BUYING)])
def test_at_the_price_at_which_it_stops_paying_nothing_is_saved(price: str, cheaper: Cheaper) -> None:
    kitchen = a_topside_kitchen()
    at_price = BreakOrBuy(of(kitchen).value, paid(kitchen, Fraction(price)))
    assert at_price.with_labour.cheaper is cheaper
    assert at_price.without_labour.cheaper is Cheaper.BREAKING


@some
@given(kitchens())
def test_breaking_even_is_exact_and_value_is_indifferent_to_the_method(kitchen: KitchenOnDay) -> None:
    for code, breakdown in kitchen.breakdowns.items():
        compared, sheet = of(kitchen, code), CutSheet(kitchen, costs(kitchen))
        limit, free = compared.with_labour.stops_paying_at, compared.without_labour.stops_paying_at
        for at, verdict in ((limit, "with_labour"), (free, "without_labour")):
            if at is not None:
                there = BreakOrBuy(compared.value, replace(compared.input_cost, material=at, labour=Fraction(0)))
                assert getattr(there, verdict).saved == 0
                assert getattr(there, verdict).breaking == compared.value.cuts
        for method in Method:
            other = replace(breakdown, method=method)
            value = value_of(other, sheet.yields(breakdown), kitchen.settings, TEN)
            assert value.after_labour == compared.value.after_labour


@some
@given(kitchens())
def test_what_is_lost_is_what_using_it_all_would_add(kitchen: KitchenOnDay) -> None:
    for code, breakdown in kitchen.breakdowns.items():
        everything = of(kitchen, code)
        half = {output.cut: Fraction(1, 2) * everything_of(everything, output.cut) for output in breakdown.cuts}
        part = of(kitchen, code, used=half)
        if everything.value.before_labour is not None and part.value.before_labour is not None:
            assert part.value.lost == everything.value.before_labour - part.value.before_labour


def everything_of(compared: BreakOrBuy, cut: str) -> Fraction:
    return next(output.comes_off for output in compared.value.outputs if output.output.cut == cut)


def test_trim_that_goes_in_the_bin_is_money_lost_and_the_roast_alone_does_not_pay() -> None:
    """6 kg of roast are 102.00; the cap (16.00) and the mince (1.8 kg at 8.60 net) that nobody uses are 31.48."""
    used = of(a_topside_kitchen(), used={"topside-roast": Fraction(6)})
    assert used.value.cuts == Fraction("102.00")
    assert used.value.credits == Fraction("0.72"), "the fat is credited whole, unless it is said to be wasted"
    assert used.value.finishing == 0, "what is not used is not minced"
    assert used.value.lost == Fraction("31.48")
    binned = of(a_topside_kitchen(), used={"topside-roast": Fraction(6), "topside-fat": Fraction(0)})
    assert binned.value.lost == Fraction("32.20")


def test_a_missing_value_is_a_gap_that_names_the_cut_and_only_where_something_comes_off() -> None:
    kitchen = a_topside_kitchen(a_seamed_topside(
        a_main("topside-cap", "0.1"), a_main("topside-roast", "0.8", "17.00"), a_main("topside-nothing", "0"),
        a_loss("topside-skin", "0.1", disposal_cost="0.50")))
    compared = of(kitchen)
    assert (compared.value.cuts, compared.with_labour.saved, compared.without_labour.stops_paying_at) == (None,) * 3
    assert [(gap.code, gap.record) for gap in compared.value.gaps] == [("missing_value", "topside-cap")]
    assert compared.value.disposal == Fraction("0.50")
    without_it = of(kitchen, used={"topside-roast": Fraction(8)})
    assert without_it.value.cuts == Fraction(136)
    assert without_it.value.lost is None, "what the cap would add is not known"


def test_without_a_labour_rate_what_is_before_labour_stands() -> None:
    compared = of(a_topside_kitchen(settings=some_settings(labour_rate_per_hour=None)))
    assert compared.with_labour.saved is None
    assert compared.without_labour.saved == Fraction("-7.80")
    assert [gap.code for gap in compared.value.gaps] == ["no_labour_rate"]


def test_a_cut_that_is_broken_down_again_is_compared_with_what_the_chain_costs() -> None:
    trimmed = a_breakdown(a_main("cap-steak", "0.8", "24.00"), a_loss("cap-skin", "0.2"), code="cap-trimmed",
                          input=BreakdownInput(cut="topside-cap"), labour_minutes_per_kg=Decimal(5))
    kitchen = a_topside_kitchen(trimmed)
    compared, cap = of(kitchen, "cap-trimmed"), CutSheet(kitchen, costs(kitchen)).figures("topside-cap")
    assert compared.input_cost.basis == "cost_of_cut"
    assert compared.input_cost.cost == cap.cost_per_kg
    assert compared.without_labour.saved == (Fraction("19.20") - (cap.material_cost_per_kg or 0)) * 10
    assert compared.with_labour.saved == (Fraction("19.20") - 2 - (cap.cost_per_kg or 0)) * 10
    lost_input = replace(kitchen, breakdowns={"cap-trimmed": trimmed})
    assert [gap.code for gap in of(lost_input, "cap-trimmed").input_cost.gaps] == ["not_made"]


def test_a_small_muscle_taken_off_is_held_against_leaving_it_on() -> None:
    """Left on, 0.7 kg at 17.00 is 11.90; taken off, 0.06 at 21.00 and 0.62 at 17.60 are 12.172, for one minute more."""
    on = a_breakdown(a_main("cap-on", "0.70", "17.00"), code="topside-seamed", labour_minutes_per_kg=Decimal(2))
    off = a_breakdown(a_main("strap", "0.06", "21.00"), a_main("cap-off", "0.62", "17.60"), code="topside-strap-off",
                      in_use=False, labour_minutes_per_kg=Decimal(3))
    other = a_breakdown(a_main("steak", "0.5", "20.00"), code="elsewhere", input=BreakdownInput(ingredient="shin"))
    found = sides(a_topside_kitchen(on, off, other))
    assert list(found) == ["topside-seamed", "topside-strap-off"]
    assert found["topside-seamed"].value.after_labour == Fraction("11.90") - Fraction("0.80")
    assert found["topside-strap-off"].value.after_labour == Fraction("12.172") - Fraction("1.20")
    assert found["topside-strap-off"].margin_after_labour == Fraction("10.972") - Fraction("14.20")
    assert found["topside-strap-off"].gives_also == ("strap", "cap-off")
    assert found["topside-strap-off"].does_not_give == ("cap-on",)


@pytest.mark.parametrize("price", ["1.00", "14.20", "40.00"])
def test_roast_or_sell_raw_leaves_out_what_was_paid(price: str) -> None:
    """Source: OpenStax, Principles of Accounting, Volume 2, 10.5 (data read, answer computed): raw beef near its date
    at 3.00, roasted for 2.80 and sold at 6.50 a lb: 0.70 a lb, 2 800 on 4 000 lb. A kg stands for the lb here."""
    beef = a_breakdown(a_main("roast-beef", "1", "6.50", finishing_cost="2.80", split_off_value="3.00"))
    (finishing,) = finishing_of(of(a_kitchen(a_primal(), a_price(price), beef), kg=Fraction(4000)).value)
    assert finishing.gain_per_kg == Fraction("0.70")
    assert finishing.gain == 2800
    assert finishing.worth_finishing is True


def test_finishing_that_gains_nothing_is_not_worth_it_and_without_a_raw_value_it_cannot_be_said() -> None:
    kitchen = a_topside_kitchen(a_seamed_topside(
        a_main("even", "0.2", "10.00", finishing_cost="1.00", split_off_value="9.00"),
        some_trim("unsaid", "0.3", "9.00", finishing_cost="0.40"), a_main("as-it-is", "0.3", "9.00"),
        a_by_product("bones", "0.1", "1.20")))
    found = {one.output.cut: one for one in finishing_of(of(kitchen).value)}
    assert set(found) == {"even", "unsaid"}
    assert (found["even"].gain_per_kg, found["even"].worth_finishing) == (0, False)
    assert (found["unsaid"].gain_per_kg, found["unsaid"].worth_finishing) == (None, None)
    assert [(gap.code, gap.record) for gap in found["unsaid"].gaps] == [("missing_value", "unsaid")]
