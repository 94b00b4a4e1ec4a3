"""How far food costs could be off by their yields. Judges: the kitchen compiled again at other yields; hundreds of
rounds of tests drawn at random, each costed like any other; numpy's matrices."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from service.domain.breakdown import Breakdown, BreakdownInput, Method, Role, YieldsFrom
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.dish import Dish
from service.domain.food_cost_uncertainty import FoodCostUncertainty, UncertaintySheet, breakdown_weights
from service.domain.history import Mark
from service.domain.kitchen import KitchenOnDay
from service.domain.rounding import square_root
from service.domain.student_t import t_of_95_percent
from service.domain.yield_test import YieldTest
from service.domain.yields import yields_of
from tests.builders import (
    a_breakdown,
    a_dish,
    a_kitchen,
    a_line,
    a_loss,
    a_main,
    a_price,
    a_primal,
    a_recipe,
    a_seamed_topside,
    a_yield_test,
    an_ingredient,
    some_trim,
)

TOPSIDE = replace(a_seamed_topside(), yields_from=YieldsFrom.TESTS)
CAP = a_breakdown(a_main("cap-steak", "0.65", "24"), some_trim("cap-strips", "0.25", "12"), a_loss("cap-skin", "0.08"),
                  code="cap-trimmed", input=BreakdownInput(cut="topside-cap"), method=Method.CONSTANT_MARGIN,
                  yields_from=YieldsFrom.TESTS)
RUMP = a_breakdown(a_main("rump-steak", "0.8"), a_loss("rump-fat", "0.15", disposal_cost="0.3"), code="rump-trimmed",
                   input=BreakdownInput(ingredient="beef-rump"), yields_from=YieldsFrom.TESTS)
PLANS = (TOPSIDE, CAP, RUMP)
GRILL = a_dish("grill", a_line("cut cap-steak", "0.2"), a_line("cut topside-roast", "0.15"),
               a_line("cut rump-steak", "0.1"), a_line("ingredient shallot", "0.1"), allowance_percent="2")
PIE = a_dish("pie", a_line("recipe filling", "0.3", "l"))
STEAK = a_dish("steak", a_line("cut rump-steak", "0.22"))
SALAD = a_dish("salad", a_line("ingredient shallot", "0.2"), a_line("cut topside-fat", "0.1"))
FILLING = a_recipe("filling", a_line("cut topside-mince", "0.5"), a_line("cut cap-strips", "0.1"))
GOODS = (a_primal(), a_price("14.20"), a_primal("beef-rump"), a_price("11.90", ingredient="beef-rump"),
         an_ingredient(), a_price("2.10", ingredient="shallot"))
SPREADS = {"topside-cap": 0.008, "topside-roast": 0.03, "topside-mince": 0.025, "topside-fat": 0.01,
           "topside-silverskin": 0.008, "cap-steak": 0.04, "cap-strips": 0.04, "cap-skin": 0.015,
           "rump-steak": 0.02, "rump-fat": 0.02}


def some_tests(plan: Breakdown, count: int, draw: np.random.Generator) -> list[YieldTest]:
    """Pieces of 7 to 10 kg; what the knife takes too much of one output is missing from the next."""
    tests = []
    for number in range(count):
        paid = draw.uniform(7, 10)
        means = [float(output.expected_yield) for output in plan.outputs]
        off = [draw.normal(0, SPREADS[output.cut]) for output in plan.outputs]
        shares = [mean + own - 0.5 * before for mean, own, before in zip(means, off, [0.0, *off[:-1]], strict=True)]
        weights = {output.cut: f"{paid * max(share, 0):.4f}"
                   for output, share in zip(plan.outputs, shares, strict=True)}
        tests.append(a_yield_test(f"{paid:.4f}", weights, breakdown=plan.code, made=Mark(number + 1, 1)))
    return tests


def a_house(tests: Sequence[YieldTest], plans: Sequence[Breakdown] = PLANS,
            dishes: Sequence[Dish] = (GRILL, PIE, SALAD)) -> KitchenOnDay:
    return a_kitchen(*GOODS, *plans, *tests, FILLING, *dishes)


def weighed_all(counts: dict[str, int]) -> list[YieldTest]:
    draw = np.random.default_rng(7)
    return [test for plan in PLANS for test in some_tests(plan, counts.get(plan.code, 0), draw)]


USUAL = weighed_all({"topside-seamed": 8, "cap-trimmed": 5, "rump-trimmed": 6})
KITCHEN = a_house(USUAL)


def doubt_of(kitchen: KitchenOnDay, dish: str = "grill") -> FoodCostUncertainty:
    return UncertaintySheet(kitchen, cascade(compile_network(kitchen))).of(dish)


Found = dict[str, dict[str, Decimal]]


def with_yields(yields: Found, plans: Sequence[Breakdown] = PLANS) -> KitchenOnDay:
    """The same house with these yields as declared ones."""
    return a_house((), [replace(
        plan, yields_from=YieldsFrom.DECLARED,
        outputs=tuple(replace(output, expected_yield=yields[plan.code][output.cut]) for output in plan.outputs))
        for plan in plans])


def costs_at(yields: Found, plans: Sequence[Breakdown] = PLANS) -> dict[str, Fraction]:
    """The food cost of every dish at these yields."""
    costing = cascade(compile_network(with_yields(yields, plans)))
    costs = {dish: costing.material(("dish", dish)) for dish in ("grill", "pie")}
    return {dish: cost for dish, cost in costs.items() if cost is not None}


def yields_at(kitchen: KitchenOnDay) -> Found:
    def of(plan: Breakdown) -> dict[str, Decimal]:
        fractions = yields_of(plan, kitchen.yield_tests[plan.code], kitchen.day).fractions
        return {cut: Decimal(y.numerator) / Decimal(y.denominator) for cut, y in fractions.items()}
    return {plan.code: of(plan) for plan in PLANS}


def covariance_by_numpy(plan: Breakdown) -> np.ndarray:
    x = np.array([float(test.input_weight) for test in KITCHEN.yield_tests[plan.code]])
    y = np.array([[float(output.weight) for output in test.outputs] for test in KITCHEN.yield_tests[plan.code]])
    off = y - np.outer(x, y.sum(axis=0) / x.sum())
    covariance: np.ndarray = off.T @ off / (len(x) * (len(x) - 1)) / x.mean() ** 2
    return covariance


def slopes_by_chords(plans: Sequence[Breakdown], plan: Breakdown, dish: str) -> np.ndarray:
    """How the food cost moves with each yield of a plan, over a hair to either side, the kitchen compiled anew."""
    at, hair = yields_at(KITCHEN), Decimal("1e-7")

    def cost_off(cut: str, by: Decimal) -> Fraction:
        return costs_at({**at, plan.code: {**at[plan.code], cut: at[plan.code][cut] + by}}, plans)[dish]

    return np.array([float((cost_off(output.cut, hair) - cost_off(output.cut, -hair)) / Fraction(2 * hair))
                     for output in plan.outputs])


@pytest.mark.parametrize("dish", ["grill", "pie"])
@pytest.mark.parametrize("method", Method)
def test_it_is_the_covariance_propagated_by_slopes_taken_from_the_whole_kitchen(dish: str, method: Method) -> None:
    """Slopes as chords of the food cost over a hair to either side of each yield, covariance by numpy."""
    valued = replace(TOPSIDE, method=method, outputs=tuple(
        replace(output, relative_value=Decimal(3 + n)) for n, output in enumerate(TOPSIDE.outputs)))
    plans, variance = (valued, CAP, RUMP), 0.0
    for plan in plans:
        slopes = slopes_by_chords(plans, plan, dish)
        variance += float(slopes @ covariance_by_numpy(plan) @ slopes)
    found = doubt_of(a_house(USUAL, plans), dish)
    assert found.standard_error is not None
    assert float(found.standard_error) == pytest.approx(variance**0.5, rel=1e-6)


def test_a_simulation_of_the_yields_scatters_as_is_said() -> None:
    """Yields drawn from a normal with the tests' covariance, the kitchen costed at each: first order is near enough."""
    draw, at = np.random.default_rng(11), yields_at(KITCHEN)
    drawn = {plan.code: draw.multivariate_normal(
        [float(at[plan.code][output.cut]) for output in plan.outputs], covariance_by_numpy(plan), size=600)
        for plan in PLANS}
    costs = [costs_at({plan.code: {
        output.cut: Decimal(f"{share:.12f}") for output, share in zip(plan.outputs, drawn[plan.code][n], strict=True)}
        for plan in PLANS}) for n in range(600)]
    for dish in ("grill", "pie"):
        said = doubt_of(KITCHEN, dish)
        assert said.standard_error is not None
        scatter = float(np.std([float(found[dish]) for found in costs], ddof=1))
        assert scatter == pytest.approx(float(said.standard_error), rel=0.1)


def test_rounds_of_real_tests_scatter_as_is_said_and_the_interval_holds_the_truth() -> None:
    """400 kitchens, each with its own tests of the same plan: how their food costs scatter is what each says of its
    own, on average; and in about 95 of 100 the interval holds the cost at the yields that all pieces are drawn from."""
    draw, costs, variances, held = np.random.default_rng(3), [], [], 0
    truth = doubt_of(a_house((), (RUMP,), (STEAK,)), "steak").food_cost
    assert truth is not None
    for _ in range(400):
        found = doubt_of(a_house(some_tests(RUMP, 6, draw), (RUMP,), (STEAK,)), "steak")
        assert found.food_cost is not None
        assert found.interval is not None
        costs.append(float(found.food_cost))
        variances.append(float(found.contributions[0].standard_error or 0) ** 2)
        held += found.interval[0] <= truth <= found.interval[1]
    assert np.var(costs, ddof=1) == pytest.approx(np.mean(variances), rel=0.25)
    assert 0.92 <= held / 400 <= 0.98


def test_breakdowns_add_up_and_the_greatest_is_named() -> None:
    said = doubt_of(KITCHEN)
    assert [each.doubt.breakdown.code for each in said.contributions] == [
        "cap-trimmed", "rump-trimmed", "topside-seamed"]
    variances = [part.variance for part in said.parts if part is not None]
    assert said.main is not None
    assert said.main.part is not None
    assert said.main.part.variance == max(variances)
    assert said.standard_error == Fraction(square_root(sum(variances, Fraction(0))))
    assert said.status == "complete"


def test_the_interval_is_student_s_at_the_effective_degrees_of_freedom() -> None:
    alone = doubt_of(a_house(USUAL, dishes=(STEAK,)), "steak")
    assert alone.degrees_of_freedom == 5
    assert alone.half_width is not None
    assert alone.standard_error is not None
    assert float(alone.half_width) == pytest.approx(float(Fraction(t_of_95_percent(5)) * alone.standard_error))


def test_where_a_yield_is_declared_or_weighed_once_it_is_not_known_and_at_least_so_much() -> None:
    once = doubt_of(a_house(weighed_all({"topside-seamed": 8, "cap-trimmed": 1, "rump-trimmed": 6})))
    never = doubt_of(a_house(weighed_all({"topside-seamed": 8, "rump-trimmed": 6})))
    for said, tests, basis in ((once, 1, "tests"), (never, 0, "declared")):
        assert (said.status, said.standard_error, said.interval, said.main) == ("not_known", None, None, None)
        cap = said.contributions[0]
        assert (cap.doubt.tests, cap.doubt.basis, cap.part, cap.standard_error) == (tests, basis, None, None)
        assert said.known_standard_error > 0
        assert said.tests_needed(Fraction(1, 100)).why == "yields_not_known"


def test_what_rests_on_no_yield_is_not_off_by_one() -> None:
    said = doubt_of(KITCHEN, "salad")
    assert (said.contributions, said.standard_error, said.main) == ((), 0, None)
    assert said.interval == (said.food_cost, said.food_cost)
    assert said.tests_needed(Fraction(1, 100)).more == 0


def test_a_food_cost_that_is_not_known_says_so() -> None:
    unpriced = replace(KITCHEN, prices={**KITCHEN.prices, "shallot": ()})
    said = doubt_of(unpriced)
    assert (said.status, said.standard_error, said.interval) == ("incomplete", None, None)
    assert said.tests_needed(Fraction(1, 100)).why == "food_cost_not_known"


def test_a_dish_that_costs_nothing_can_be_within_no_part_of_it() -> None:
    """Credits that come to the price: the cost is nil, and what the tests say of the fat moves it."""
    given = a_seamed_topside(a_main("topside-cap", "0.5", "16"), *(
        output for output in TOPSIDE.outputs if output.role is Role.BY_PRODUCT), yields_from=YieldsFrom.TESTS)
    tests = [a_yield_test("10", {"topside-cap": "5", "topside-fat": fat}, made=Mark(n, 1))
             for n, fat in enumerate(("1", "1.2", "0.8"), 1)]
    dish = a_dish("capped", a_line("cut topside-cap", "0.2"))
    kitchen = a_kitchen(a_primal(), a_price("0.12"), given, *tests, dish)
    said = doubt_of(kitchen, "capped")
    assert said.food_cost == 0
    assert said.standard_error
    assert said.tests_needed(Fraction(1, 100)).why == "food_cost_is_zero"


def test_more_tests_of_the_greatest_bring_it_within_what_is_wanted_where_the_rest_allows() -> None:
    said = doubt_of(a_house(USUAL, dishes=(STEAK,)), "steak")
    assert said.half_width is not None
    assert said.food_cost is not None
    now = said.half_width / said.food_cost
    assert said.tests_needed(now * 2).more == 0
    needed = said.tests_needed(now / 2)
    assert needed.more
    assert said.tests_needed(now / 1000).why == "too_many_tests"
    grill = doubt_of(KITCHEN)
    assert grill.tests_needed(Fraction(1, 10_000)).why == "others_too_uncertain"


def test_a_dish_rests_on_the_breakdowns_that_count_in_it() -> None:
    sheet = UncertaintySheet(KITCHEN, cascade(compile_network(KITCHEN)))
    assert sheet.resting_on(None) == ("grill", "pie", "salad")
    assert sheet.resting_on("topside-seamed") == ("grill", "pie")
    assert sheet.resting_on("rump-trimmed") == ("grill",)


def test_a_chain_hands_the_first_breakdown_s_pool_on_through_the_second() -> None:
    """The weight of a pool is what one unit of money more a kg of its input, without changing anything else, adds."""
    network = compile_network(KITCHEN)
    weights, before = breakdown_weights(network), cascade(network)
    for code in ("topside-seamed", "cap-trimmed", "rump-trimmed"):
        index = network.index["breakdown", code]
        nodes = [*network.nodes]
        nodes[index] = replace(nodes[index], material=nodes[index].material + 1)
        after = cascade(replace(network, nodes=tuple(nodes)))
        for dish in ("grill", "pie", "salad"):
            then, now = before.material(("dish", dish)), after.material(("dish", dish))
            assert then is not None
            assert now is not None
            assert weights[dish].get(code, 0) == now - then
