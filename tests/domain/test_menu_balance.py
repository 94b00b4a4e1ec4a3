"""What so many covers need, buy and leave over. Judges: naive recursion from the records, in the other direction and
with units of its own; scipy's linear programming; published joint costs.
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from service.domain.breakdown import BreakdownInput, Method, Role, YieldsFrom
from service.domain.breakdown_balance import BreakdownBalance, OutputBalance
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.kitchen import KitchenOnDay
from service.domain.menu_balance import MenuBalance, menu_balance
from service.domain.publication import cost_in_words
from service.domain.recipe import Line
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_conversion,
    a_dish,
    a_kitchen,
    a_line,
    a_loss,
    a_main,
    a_price,
    a_primal,
    a_recipe,
    a_topside_kitchen,
    a_yield_test,
    an_ingredient,
    some_trim,
)
from tests.judge import Judge
from tests.judge_measures import UNITS, converted
from tests.kitchens import kitchens

Covers = dict[str, Fraction]
often = settings(max_examples=30, deadline=None,
                 suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
CAP = a_dish("cap", a_line("cut topside-cap", "0.2"), menu_price="22")
ROAST = a_dish("roast", a_line("cut topside-roast", "0.3"), menu_price="19")
A_PIECE = {"conversions": (a_conversion("each", "8.4", "kg"),)}


def balance_of(kitchen: KitchenOnDay, covers: dict[str, Any], whole_pieces: bool = True) -> MenuBalance:
    exact = {code: Fraction(quantity) for code, quantity in covers.items()}
    return menu_balance(kitchen, cascade(compile_network(kitchen)), exact, whole_pieces)


def output(balance: MenuBalance, cut: str) -> OutputBalance:
    return next(each for of in balance.breakdowns for each in of.outputs if each.output.cut == cut)


def by_code(balance: MenuBalance) -> dict[str, BreakdownBalance]:
    return {each.breakdown.code: each for each in balance.breakdowns}


@st.composite
def kitchens_and_covers(draw: Any) -> tuple[KitchenOnDay, Covers]:
    kitchen = draw(kitchens())
    portions = st.sampled_from([Fraction(1), Fraction(40), Fraction("7.5"), Fraction(300)])
    return kitchen, {code: draw(portions) for code in kitchen.dishes}


class Demand:
    """How much is needed of a thing: what all its users together take of it. None: some user's line has no weight."""

    def __init__(self, kitchen: KitchenOnDay, covers: Covers) -> None:
        self.kitchen, self.covers, self.judge = kitchen, covers, Judge(kitchen)

    def by_lines(self, kind: str, code: str) -> Fraction | None:
        total: Fraction | None = Fraction(0)
        for dish, portions in self.covers.items():
            record = self.kitchen.dishes[dish]
            total = plus(total, self.in_lines(record.lines, kind, code, portions / Fraction(record.portions)))
        for name, recipe in self.kitchen.recipes.items():
            if any(line.uses == (kind, code) for line in recipe.lines):
                made = Fraction(recipe.makes_quantity) * UNITS[recipe.makes_unit][1]
                needed = self.by_lines("recipe", name)
                lots = None if needed is None else needed / made
                total = plus(total, self.in_lines(recipe.lines, kind, code, lots))
        return total

    def in_lines(self, lines: tuple[Line, ...], kind: str, code: str, times: Fraction | None) -> Fraction | None:
        total: Fraction | None = Fraction(0)
        for line in lines:
            if line.uses == (kind, code) and times != 0:
                taken = Fraction(line.quantity) / (Fraction(line.yield_percent) * Fraction(line.cooking_yield_percent)
                                                   / 10_000)
                units = self.judge._measured(kind, code, taken, line.unit)
                total = None if times is None or units is None else plus(total, times * units)
        return total

    def of_cut(self, cut: str) -> Fraction | None:
        total = self.by_lines("cut", cut)
        for breakdown in self.kitchen.breakdowns.values():
            if breakdown.in_use and breakdown.input.cut == cut:
                total = plus(total, self.input(breakdown.code))
        return total

    def input(self, code: str) -> Fraction | None:
        breakdown, most = self.kitchen.breakdowns[code], Fraction(0)
        _, yields = self.judge.yields(breakdown)
        for each in breakdown.outputs:
            needed = self.of_cut(each.cut) if each.role in (Role.MAIN, Role.TRIM) else Fraction(0)
            if needed is None or (needed and not yields[each.cut]):
                return None
            most = max(most, needed / yields[each.cut] if needed else Fraction(0))
        return most


def plus(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one + other


@often
@given(kitchens_and_covers())
def test_what_is_needed_is_what_all_users_together_take(told: tuple[KitchenOnDay, Covers]) -> None:
    kitchen, covers = told
    balance, demand = balance_of(kitchen, covers, whole_pieces=False), Demand(kitchen, covers)
    found = by_code(balance)
    for code, breakdown in kitchen.breakdowns.items():
        if breakdown.in_use:
            expected = demand.input(code)
            assert (found[code].input_kg if code in found else Fraction(0)) == expected
    for of in balance.breakdowns:
        for each in of.outputs:
            if not each.is_loss:
                assert (each.need.kg if each.need.known else None) == demand.of_cut(each.output.cut)
    bought = {each.ingredient.code: each for each in balance.ingredients}
    for code in kitchen.ingredients:
        needed = demand.by_lines("ingredient", code)
        assert (bought[code].quantity if bought[code].known else None) == needed if code in bought else needed == 0


def carried(each: BreakdownBalance) -> bool:
    """Whether anything comes off that carries the cost; by-products alone carry none, whatever was paid."""
    return any(out.output.role.carries_joint_cost and out.yield_fraction for out in each.outputs)


@often
@given(kitchens_and_covers(), st.booleans())
def test_weights_and_money_conserve_to_the_last_digit(told: tuple[KitchenOnDay, Covers], whole_pieces: bool) -> None:
    """Whatever the methods: what goes in is what is used, left, lost and unaccounted for; so is its cost."""
    kitchen, covers = told
    balance = balance_of(kitchen, covers, whole_pieces)
    for each in balance.breakdowns:
        if each.input_kg is not None:
            known = [out for out in each.outputs if out.need.known]
            assert all(out.left is not None and out.left >= 0 for out in known)
            assert all(out.output.role is Role.BY_PRODUCT for out in each.outputs if out.short or out not in known)
        if each.used_kg is not None:
            parts = (each.used_kg, each.left_kg, each.loss_kg, each.unaccounted_kg)
            assert sum(part for part in parts if part is not None) == each.input_kg
        left = each.left_value(Role.MAIN, Role.TRIM, Role.BY_PRODUCT)
        if carried(each) and None not in (each.input_cost, each.used_value, left):
            assert each.input_cost + each.charges == each.used_value + left  # type: ignore[operator]
    left, credits = balance.left_over_value, balance.left_value(Role.BY_PRODUCT)
    if all(map(carried, balance.breakdowns)) and None not in (balance.outlay, balance.food_cost, left, credits):
        assert balance.outlay == balance.food_cost + left + credits  # type: ignore[operator]
        assert balance.primals_cost + balance.charges + balance.short_value == (  # type: ignore[operator]
            balance.used_value + left + credits)  # type: ignore[operator]
    if not balance.gaps:
        assert None not in (balance.outlay, balance.food_cost, left, credits)


@often
@given(kitchens_and_covers())
def test_covers_doubled_double_all_but_whole_pieces(told: tuple[KitchenOnDay, Covers]) -> None:
    kitchen, covers = told
    twice = {code: 2 * quantity for code, quantity in covers.items()}
    once, doubled = balance_of(kitchen, covers, whole_pieces=False), balance_of(kitchen, twice, whole_pieces=False)
    for figure in ("food_cost", "outlay", "left_over_value", "used_value", "takings", "left_over_market_value"):
        one, two = getattr(once, figure), getattr(doubled, figure)
        assert two == (None if one is None else 2 * one)
    for one, two in zip(once.breakdowns, doubled.breakdowns, strict=True):
        assert two.needed_input == 2 * one.needed_input
        assert [each.need.kg for each in two.outputs] == [2 * each.need.kg for each in one.outputs]
    assert (once.outlay_percent, once.gaps) == (doubled.outlay_percent, doubled.gaps)


@often
@given(kitchens_and_covers())
def test_nothing_is_left_of_the_cut_that_binds_and_no_piece_is_bought_too_many(
        told: tuple[KitchenOnDay, Covers]) -> None:
    kitchen, covers = told
    for each in balance_of(kitchen, covers, whole_pieces=False).breakdowns:
        assert [out.left for out in each.binding] == [0] * len(each.binding)
        assert bool(each.binding) == (each.input_kg is not None and each.input_kg > 0)
    for each in balance_of(kitchen, covers).breakdowns:
        if each.pieces is not None and each.piece.weight_kg is not None:
            assert each.input_kg == each.pieces * each.piece.weight_kg >= each.needed_input
            assert (each.pieces - 1) * each.piece.weight_kg < each.needed_input
            assert each.breakdown.input.ingredient is not None


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(1, 400), min_size=3, max_size=3))
def test_the_least_input_is_the_one_that_linear_programming_finds(portions: list[int]) -> None:
    """Judge: scipy's linprog on the chain of two breakdowns: least input such that every cut suffices."""
    kitchen = a_topside_kitchen(
        a_breakdown(a_main("minute-steak", "0.7"), some_trim("stir-fry", "0.2"), code="roast-sliced",
                    input=BreakdownInput(cut="topside-roast")),
        CAP, ROAST, a_dish("stir-fry", a_line("cut stir-fry", "0.15", cooking_yield_percent="75")))
    covers = dict(zip(("cap", "roast", "stir-fry"), portions, strict=True))
    found = by_code(balance_of(kitchen, covers, whole_pieces=False))
    cap, roast, fry = portions
    least = linprog([1, 1], A_ub=[[-0.10, 0], [-0.60, 1], [0, -0.2]], b_ub=[-0.2 * cap, -0.3 * roast, -0.2 * fry])
    assert [float(found[code].needed_input) for code in ("topside-seamed", "roast-sliced")] == pytest.approx(least.x)


def test_the_rib_of_a_published_butcher_s_test_takes_the_whole_piece_and_earns_its_credits() -> None:
    """Dittmer & Keefe, Principles of Food, Beverage, and Labor Cost Controls, 9th ed., ch. 6, exercise 4: 38.75 lb at
    3.19, fat 6.5 lb, bones 4.25 at 0.32, short ribs 3.25 at 1.49, chopped beef 2.5 at 1.59, loss 0.25; rib 22 lb, which
    carries 113.4350 of 123.6125."""
    weights = {"rib": "22", "fat": "6.5", "bones": "4.25", "short-ribs": "3.25", "chopped": "2.5", "cutting": "0.25"}
    credits = {"fat": "0", "bones": "0.32", "short-ribs": "1.49", "chopped": "1.59"}
    per_kg = Decimal("0.45359237")
    rib = a_breakdown(
        a_main("rib", "0.5"), *(a_by_product(cut, "0.1", Decimal(worth) / per_kg) for cut, worth in credits.items()),
        a_loss("cutting", "0"), yields_from=YieldsFrom.TESTS)
    kitchen = a_kitchen(a_primal(), a_price("3.19", pack_unit="lb"), rib, a_yield_test("38.75", weights, unit="lb"),
                        a_dish("prime-rib", a_line("cut rib", "10", "oz"), menu_price="30"))
    balance = balance_of(kitchen, {"prime-rib": Fraction(22 * 16, 10)})
    assert balance.breakdowns[0].pieces == 1
    assert balance.outlay == Fraction("123.6125")
    assert cost_in_words(balance.food_cost) == "113.4350"
    assert (balance.left_over_value, cost_in_words(balance.left_value(Role.BY_PRODUCT))) == (0, "10.1775")
    assert output(balance, "rib").binds


def test_parts_of_a_published_joint_cost_are_left_over_at_their_share() -> None:
    """Horngren, Datar & Rajan, Cost Accounting, problem 16-16: chickens at a joint cost of 100 for 250 lb; breasts 100
    lb at 1.10, wings 20 at 0.40, thighs 40 at 0.70, bones 80 at 0.20, feathers 10 at 0.10. Shares by sales value at
    split-off 67.4847, 4.9080, 17.1779, 9.8160, 0.6135; by weight 40, 8, 16, 32, 4. Kilograms stand for its pounds."""
    parts = (("breasts", "0.4", "1.10"), ("wings", "0.08", "0.40"), ("thighs", "0.16", "0.70"),
             ("bones", "0.32", "0.20"), ("feathers", "0.04", "0.10"))
    printed = {Method.MARKET_VALUE: ["4.9080", "17.1779", "9.8160", "0.6135"],
               Method.WEIGHT: ["8.0000", "16.0000", "32.0000", "4.0000"]}
    for method, shares in printed.items():
        kitchen = a_kitchen(
            a_primal(), a_price("0.40"), a_dish("fillet", a_line("cut breasts", "0.2")),
            a_breakdown(*(a_main(cut, weight, value) for cut, weight, value in parts), method=method))
        balance = balance_of(kitchen, {"fillet": 500})
        assert [cost_in_words(output(balance, cut).left_value) for cut, _, _ in parts[1:]] == shares
        assert balance.outlay == 100
        assert balance.left_over_value == 100 - balance.food_cost  # type: ignore[operator]


def test_a_menu_on_which_every_dish_looks_fine_leaves_the_big_muscle_unsold() -> None:
    """By hand: 40 caps of 0.2 kg are 8 kg, at 10 % of a topside 80 kg: ten pieces of 8.4 kg, 84 kg; of the roast
    50.4 kg come off and none is used."""
    kitchen = a_topside_kitchen(CAP)
    kitchen = replace(kitchen, ingredients={"beef-topside": a_primal(**A_PIECE)})
    balance = balance_of(kitchen, {"cap": 40})
    topside, roast, cap = balance.breakdowns[0], output(balance, "topside-roast"), output(balance, "topside-cap")
    assert (topside.needed_input, topside.pieces, topside.input_kg) == (80, 10, 84)
    assert (roast.left, roast.left_percent, cap.left, cap.binds) == (Fraction("50.4"), 100, Fraction("0.4"), True)
    assert topside.unaccounted_kg == Fraction("0.02") * 84
    found = balance.findings[0]
    assert (len(balance.findings), found.code, found.record) == (1, "mostly_left_over", "topside-roast")
    assert found.detail.startswith(f"50.4000 kg of topside-roast are left over, 100.00 % of what comes off: "
                                   f"{cost_in_words(roast.left_value)} GBP at cost.")
    percent, really = balance.food_cost_percent, balance.outlay_percent
    assert (percent or 100) < 25 < 100 < (really or 0)
    fed = balance_of(a_topside_kitchen(CAP, ROAST), {"cap": 40, "roast": 160})
    assert fed.findings == ()


def test_a_main_cut_of_which_just_half_stays_is_not_mostly_left_over() -> None:
    for portions, found in ((100, []), (99, ["topside-roast"])):
        balance = balance_of(a_topside_kitchen(CAP, ROAST), {"cap": 50, "roast": portions})
        assert output(balance, "topside-roast").comes_off == 60
        assert [each.record for each in balance.findings] == found, portions


def test_bones_bind_nothing_and_what_is_short_of_them_is_bought_by_itself() -> None:
    """By hand: 10 kg of topside for 6 kg of roast give 0.6 kg of fat; 2 kg are needed, at a credit of 1.20."""
    fat = a_dish("dripping", a_line("cut topside-fat", "0.1"))
    balance = balance_of(a_topside_kitchen(ROAST, fat), {"roast": 20, "dripping": 20})
    short = output(balance, "topside-fat")
    assert (balance.breakdowns[0].input_kg, short.used, short.short, short.left) == (
        10, Fraction("0.6"), Fraction("1.4"), 0)
    assert balance.short_value == Fraction("1.68")
    assert [(each.code, each.record) for each in balance.findings] == [
        ("mostly_left_over", "topside-cap"), ("by_product_short", "topside-fat")]
    assert "2.0000 kg of topside-fat are needed and 0.6000 kg come off" in balance.findings[1].detail
    alone = balance_of(a_topside_kitchen(fat), {"dripping": 20})
    assert (alone.breakdowns[0].input_kg, alone.breakdowns[0].binding) == (0, ())
    assert alone.outlay == alone.food_cost == Fraction("2.40")


def test_trim_that_a_primal_would_be_bought_for_is_told() -> None:
    mince = a_dish("burger", a_line("cut topside-mince", "0.18"))
    balance = balance_of(a_topside_kitchen(CAP, ROAST, mince), {"cap": 10, "roast": 50, "burger": 100})
    told = [(each.code, each.record) for each in balance.findings]
    assert told == [("mostly_left_over", "topside-cap"), ("mostly_left_over", "topside-roast"),
                    ("bought_for_trim", "topside-mince")]
    assert "asks for 100.0000 kg of input; for the main cuts alone 25.0000 kg would do" in balance.findings[2].detail


def test_a_quantity_is_as_purchased_through_recipes_and_both_yields() -> None:
    """By hand: 30 portions of 0.2 l of a soup that makes 2 l of 1 kg, 80 % of what is peeled: 3 lots, 3.75 kg."""
    kitchen = a_kitchen(
        an_ingredient("leek"), a_price("4", ingredient="leek"),
        a_recipe("soup", a_line("ingredient leek", "1", yield_percent="80"), makes_quantity="2"),
        a_dish("bowl", a_line("recipe soup", "0.2", "l"), portions="1", allowance_percent="10"))
    balance = balance_of(kitchen, {"bowl": 30})
    assert [(each.ingredient.code, each.quantity, each.cost) for each in balance.ingredients] == [
        ("leek", Fraction("3.75"), 15)]
    assert (balance.food_cost, balance.allowance) == (Fraction("16.5"), Fraction("1.5"))
    assert balance.outlay == Fraction("16.5")
    assert (balance.breakdowns, balance.takings, balance.outlay_percent) == ((), None, None)


def test_a_line_without_a_conversion_leaves_its_cut_unknown_and_other_primals_known() -> None:
    by_piece = a_dish("steak", a_line("cut topside-roast", "1", "each"))
    kitchen = a_topside_kitchen(
        CAP, by_piece, a_primal("lamb-leg"), a_price("9", ingredient="lamb-leg"),
        a_breakdown(a_main("gigot", "0.8"), code="leg-boned", input=BreakdownInput(ingredient="lamb-leg")),
        a_dish("lamb", a_line("cut gigot", "0.2")))
    balance = balance_of(kitchen, {"cap": 40, "steak": 10, "lamb": 8})
    leg, topside = balance.breakdowns
    assert (topside.input_kg, topside.needed_input, topside.binding, topside.left_kg) == (None, 80, (), None)
    assert (leg.input_kg, leg.used_kg) == (2, Fraction("1.6"))
    assert [(gap.code, gap.record) for gap in balance.gaps] == [("missing_conversion", "topside-roast")]
    assert (balance.outlay, balance.left_over_value, balance.used_value) == (None, None, None)


def test_a_cut_that_no_input_gives_is_a_gap_and_one_that_nothing_needs_is_none() -> None:
    kitchen = a_kitchen(a_primal(), a_price(), CAP, ROAST, a_breakdown(
        a_main("topside-cap", "0"), a_main("topside-roast", "0.7")))
    needed = balance_of(kitchen, {"cap": 1, "roast": 1})
    assert {(gap.code, gap.record) for gap in needed.gaps} == {("no_yield", "topside-cap")}
    assert needed.breakdowns[0].input_kg is None
    idle = balance_of(kitchen, {"roast": 7})
    assert (idle.gaps, idle.breakdowns[0].input_kg, idle.left_over_value) == ((), 3, 0)


def test_weights_stand_where_a_price_is_missing_and_money_does_not() -> None:
    balance = balance_of(a_kitchen(a_primal(), CAP, a_breakdown(a_main("topside-cap", "0.1", "16"))), {"cap": 1})
    assert balance.breakdowns[0].input_kg == 2
    assert (balance.food_cost, balance.primals_cost, balance.outlay) == (None, None, None)
    assert {gap.code for gap in balance.gaps} == {"no_price"}
    assert balance.left_over_market_value == 0


@pytest.mark.parametrize("method", Method)
def test_money_conserves_with_cost_by_every_method(method: Method) -> None:
    cuts = (a_main("cap", "0.10", "16", relative_value="3"), a_main("eye", "0.55", "17", relative_value="2"),
            some_trim("mince", "0.18", "9", finishing_cost="0.40", relative_value="1"),
            a_by_product("fat", "0.06", "1.20"), a_loss("skin", "0.04", disposal_cost="0.30"))
    kitchen = a_kitchen(a_primal(**A_PIECE), a_price(), a_breakdown(
        *cuts, method=method, packaging_per_kg=Decimal("0.11")), a_dish("cap", a_line("cut cap", "0.2")),
        a_dish("dripping", a_line("cut fat", "0.5")))
    balance = balance_of(kitchen, {"cap": 13, "dripping": 3})
    left, credits = balance.left_over_value, balance.left_value(Role.BY_PRODUCT)
    assert balance.outlay == sum(part or 0 for part in (balance.food_cost, left, credits))
    assert left
    assert credits == Fraction("1.20") * (Fraction("0.06") * 4 * Fraction("8.4") - Fraction("1.5"))
    assert converted(Fraction(4), "each", "kg", kitchen.ingredients["beef-topside"].conversions) == (
        balance.breakdowns[0].input_kg)
