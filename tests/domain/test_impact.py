"""What an ingredient reaches, and what its price does. Judge: the kitchen costed again with that price 1.00 dearer."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import HealthCheck, given, settings

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.impact import Impact, Reason, impact_of, ways_from
from service.domain.ingredient_weights import LineWeights, ingredient_weights
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.uses import reached_from, users_of, uses_of
from tests.builders import (
    a_breakdown,
    a_dish,
    a_line,
    a_main,
    a_primal,
    a_recipe,
    a_topside_kitchen,
)
from tests.domain.test_leaving_price import figures_at
from tests.kitchens import kitchens

some = settings(max_examples=20, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def the_impact(kitchen: KitchenOnDay, ingredient: str) -> Impact:
    network = compile_network(kitchen)
    return impact_of(ingredient, kitchen, cascade(network), users_of(uses_of(kitchen)), LineWeights(network))


def is_a_step(user: Key, used: Key, kitchen: KitchenOnDay) -> bool:
    return used in uses_of(kitchen)[user]


@some
@given(kitchens())
def test_an_ingredient_s_impact_is_what_one_more_for_it_does_when_the_kitchen_is_costed_again(
    kitchen: KitchenOnDay,
) -> None:
    for ingredient in kitchen.ingredients:
        impact = the_impact(kitchen, ingredient)
        for dish in impact.dishes:
            code = dish.figures.dish.code
            if dish.figures.food_cost is None or impact.unit_price is None:
                assert dish.reason is not None
                continue
            price = Fraction(round(impact.unit_price + 1))
            after = figures_at(kitchen, code, ingredient, price)
            if after.food_cost is None:  # so low that the credits of a breakdown exceed what its input costs
                assert price < impact.unit_price + 1
                continue
            more, weight = price - impact.unit_price, dish.reached.weight
            assert weight is not None
            assert after.food_cost == dish.figures.food_cost + weight * more
            if dish.figures.gross_profit is not None and dish.gross_profit_of_one_more is not None:
                assert after.gross_profit == dish.figures.gross_profit + dish.gross_profit_of_one_more * more
            if dish.figures.food_cost_percent is not None and dish.percent_of_one_more is not None:
                assert after.food_cost_percent == dish.figures.food_cost_percent + dish.percent_of_one_more * more


@some
@given(kitchens())
def test_the_ways_lead_step_by_step_to_everything_that_stands_above(kitchen: KitchenOnDay) -> None:
    users = users_of(uses_of(kitchen))
    for ingredient in kitchen.ingredients:
        start = ("ingredient", ingredient)
        ways = ways_from(start, users)
        assert ways.keys() == reached_from(users, [start]) - {start}
        for key, way in ways.items():
            assert (way[0], way[-1]) == (start, key)
            assert all(is_a_step(user, used, kitchen) for used, user in pairwise(way))
            assert all(len(way) <= len(ways.get(used, (start,))) + 1 for used in uses_of(kitchen)[key]
                       if used in ways or used == start), "no way over what it uses is shorter"


@some
@given(kitchens())
def test_the_parts_of_all_ingredients_and_what_no_price_moves_are_the_food_cost(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    impacts = {code: the_impact(kitchen, code) for code in kitchen.ingredients}
    for code in kitchen.dishes:
        key = ("dish", code)
        parts = {ingredient: dish.part for ingredient, impact in impacts.items() for dish in impact.dishes
                 if dish.reached.key == key and dish.part}
        weights = ingredient_weights(costing.network, key)
        if costing.material(key) is not None:
            prices = {ingredient: costing.material(("ingredient", ingredient)) for ingredient in weights}
            assert parts == {ingredient: weight * (prices[ingredient] or 0) for ingredient, weight in weights.items()
                             if prices[ingredient]}


def a_kitchen_of_many_ways() -> KitchenOnDay:
    """A cap in a ragu, in a pie of that ragu and on a plate with the ragu; bones for a stock; a plan not in use."""
    return a_topside_kitchen(
        a_recipe("ragu", a_line("cut topside-cap", "0.2")), a_recipe("stock", a_line("cut topside-fat")),
        a_dish("pie", a_line("recipe ragu", "0.5", "l"), menu_price="12.00"),
        a_dish("plate", a_line("recipe ragu", "0.1", "l"), a_line("cut topside-cap", "0.2"), menu_price="9.00"),
        a_dish("broth", a_line("recipe stock", "0.3", "l"), menu_price="5.00"),
        a_dish("special", a_line("cut topside-cap", "0.2")),
        a_dish("mystery", a_line("cut topside-cap", "0.2"), a_line("ingredient truffle", "1", "g"), menu_price="30"),
        a_primal("truffle"),
        a_breakdown(a_main("topside-steaks", "0.8"), code="topside-steaked", in_use=False))


def test_the_way_to_a_dish_is_the_shortest_and_a_plan_not_in_use_leads_nowhere() -> None:
    impact = the_impact(a_kitchen_of_many_ways(), "beef-topside")
    ways = {dish.reached.key[1]: [code for _, code in dish.reached.way] for dish in impact.dishes}
    cap = ["beef-topside", "topside-seamed", "topside-cap"]
    assert ways["pie"] == [*cap, "ragu", "pie"]
    assert ways["plate"] == [*cap, "plate"]
    plans = {reached.key[1]: reached.weight for reached in impact.breakdowns}
    assert plans == {"topside-seamed": 1, "topside-steaked": None}
    assert "topside-steaks" not in {reached.key[1] for reached in impact.cuts}


def test_every_dish_without_a_leaving_price_says_why() -> None:
    impact = the_impact(a_kitchen_of_many_ways(), "beef-topside")
    found = {dish.reached.key[1]: dish for dish in impact.dishes}
    assert {code: dish.reason for code, dish in found.items()} == {
        "pie": None, "plate": Reason.OUTSIDE_TARGET, "broth": Reason.NOT_MOVED, "special": Reason.NO_MENU_PRICE,
        "mystery": Reason.INCOMPLETE}
    assert found["plate"].leaves_at is None
    assert found["plate"].back_at is not None
    assert found["pie"].leaves_at is not None
    assert (found["broth"].part, found["mystery"].part) == (0, None)


def test_credits_are_not_taken_off_the_ingredient_s_part_so_that_it_may_be_more_than_the_whole() -> None:
    """Fat at 1.20 for 0.06 kg takes 0.072 off the 14.20 that a kg of topside costs: the part is 14.20 / 14.128."""
    impact = the_impact(a_kitchen_of_many_ways(), "beef-topside")
    pie = next(dish for dish in impact.dishes if dish.reached.key[1] == "pie")
    assert pie.part_percent == Fraction("14.20") / Fraction("14.128") * 100
