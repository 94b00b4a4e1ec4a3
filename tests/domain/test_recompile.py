"""Compiling anew only what changed equals compiling from nothing: the network, every figure, every published digit."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.breakdown import Method, YieldsFrom
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.compiled_menu import CompiledMenu
from service.domain.history import Mark
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Network
from service.domain.recompile import recompiled
from service.domain.yield_test import WeighedOutput, YieldTest
from tests.builders import a_dish, a_line, a_price, a_recipe, a_topside_kitchen, some_settings
from tests.kitchens import Draw, a_breakdown, a_test, an_ingredient, kitchens, some_lines, some_prices
from tests.kitchens import a_dish as any_dish
from tests.kitchens import a_recipe as any_recipe

some = settings(max_examples=8, deadline=None,
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
Change = Callable[[Draw, KitchenOnDay], KitchenOnDay]


def other_prices(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    code = draw(st.sampled_from(sorted(kitchen.ingredients)))
    return replace(kitchen, prices={**kitchen.prices, code: tuple(
        draw(some_prices(kitchen.ingredients[code], draw(st.booleans()))))})


def another_ingredient(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    """Another base unit, other conversions, another preferred supplier; or one more."""
    code = draw(st.sampled_from([*sorted(kitchen.ingredients), "ingredient-new"]))
    return replace(kitchen, ingredients={**kitchen.ingredients, code: draw(an_ingredient(code, draw(st.booleans())))})


def another_breakdown(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    """Other facts of an output, another method, or another plan altogether."""
    if not kitchen.breakdowns:
        return kitchen
    was = kitchen.breakdowns[draw(st.sampled_from(sorted(kitchen.breakdowns)))]
    other = draw(a_breakdown(was.code, was.input, draw(st.booleans()), draw(st.sampled_from([True, True, was.in_use]))))
    drawn = dict(zip([output.cut for output in was.outputs], other.outputs, strict=False))
    facts = [replace(output, **{
        name: getattr(drawn.get(output.cut, output), name) for name in (
            "expected_yield", "market_value", "finishing_cost", "credit_value", "portion_weight_kg")})
        for output in was.outputs]
    kept = replace(was, outputs=tuple(facts))
    changed = draw(st.sampled_from([kept, kept, other, replace(was, method=draw(st.sampled_from(Method))),
                                    replace(was, in_use=not was.in_use)]))
    return replace(kitchen, breakdowns={**kitchen.breakdowns, was.code: changed})


def another_test(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    if not kitchen.breakdowns:
        return kitchen
    code = draw(st.sampled_from(sorted(kitchen.breakdowns)))
    tests = draw(st.lists(a_test(kitchen.breakdowns[code]), max_size=2))
    return replace(kitchen, yield_tests={**kitchen.yield_tests, code: tuple(tests)})


def another_recipe(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    """Other lines (of itself, too), another batch, other conversions; or one more."""
    code = draw(st.sampled_from([*sorted(kitchen.recipes), "recipe-new"]))
    return replace(kitchen, recipes={**kitchen.recipes, code: draw(any_recipe(code, usable(kitchen), False))})


def another_dish(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    code = draw(st.sampled_from([*sorted(kitchen.dishes), "dish-new"]))
    return replace(kitchen, dishes={**kitchen.dishes, code: draw(any_dish(code, usable(kitchen), False))})


def other_lines(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    code = draw(st.sampled_from(sorted(kitchen.dishes)))
    lines = draw(some_lines(usable(kitchen), draw(st.booleans())))
    return replace(kitchen, dishes={**kitchen.dishes, code: replace(kitchen.dishes[code], lines=lines)})


def other_settings(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    rate = draw(st.sampled_from([kitchen.settings.labour_rate_per_hour, None, Decimal(31)]))
    return replace(kitchen, settings=replace(kitchen.settings, labour_rate_per_hour=rate, price_step=Decimal("0.20")))


def another_day(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    return replace(kitchen, day=kitchen.day + timedelta(draw(st.sampled_from([-31, -8, -1, 1, 10]))))


def one_less(draw: Draw, kitchen: KitchenOnDay) -> KitchenOnDay:
    plural = draw(st.sampled_from(["ingredients", "breakdowns", "recipes", "dishes"]))
    return replace(kitchen, **{plural: dict(list(getattr(kitchen, plural).items())[:-1])})


CHANGES: list[Change] = [
    other_prices, another_ingredient, another_breakdown, another_breakdown, another_test, another_recipe, another_dish,
    other_lines, other_settings, another_day, one_less]


def usable(kitchen: KitchenOnDay) -> list[tuple[str, str]]:
    cuts = [output.cut for breakdown in kitchen.breakdowns.values() for output in breakdown.outputs]
    return [("ingredient", code) for code in kitchen.ingredients] + [("cut", cut) for cut in cuts] + [
        ("recipe", code) for code in kitchen.recipes]


def told_more(kitchen: Any) -> list[object]:
    """What gaps tell beside what they are, which equality of gaps passes over."""
    return [gap.more for node in kitchen.nodes for gap in node.material_gaps]


def published(menu: CompiledMenu, network: Network) -> list[object]:
    """All that a compiled menu publishes, dish by dish."""
    return [standing | figures for standing, figures in zip(
        menu.standing, menu.published(network).rows(), strict=True)]


@some
@given(kitchens(), st.permutations(CHANGES), st.data())
def test_compiling_what_changed_equals_compiling_from_nothing(
        kitchen: KitchenOnDay, changes: list[Change], data: Any) -> None:
    """Every kind of change is made, those that are followed in places one upon another."""
    network = compile_network(kitchen)
    costing, menu = cascade(network), CompiledMenu.of(network, kitchen)
    for change in changes:
        other = change(data.draw, kitchen)
        found, whole = recompiled(network, kitchen, other), compile_network(other)
        assert found.network == whole
        assert told_more(found.network) == told_more(whole)
        under = menu.under(found, kitchen, other)
        assert published(under, found.network) == published(CompiledMenu.of(whole, other), whole)
        if found.changed is not None:
            costing, anew = costing.recosted(found.network, found.changed), cascade(whole)
            assert [costing.figures(node.key) for node in whole.nodes] == [
                anew.figures(node.key) for node in whole.nodes]
            kitchen, network, menu = other, found.network, under


def changed_nodes(before: KitchenOnDay, after: KitchenOnDay) -> list[tuple[str, str]] | None:
    found = recompiled(compile_network(before), before, after)
    assert found.network == compile_network(after)
    return None if found.changed is None else [found.network.nodes[index].key for index in sorted(found.changed)]


def with_outputs(kitchen: KitchenOnDay, **facts: str) -> KitchenOnDay:
    """The topside kitchen with facts of the first output."""
    plan = kitchen.breakdowns["topside-seamed"]
    first = replace(plan.outputs[0], **{name: Decimal(value) for name, value in facts.items()})
    return replace(kitchen, breakdowns={plan.code: replace(plan, outputs=(first, *plan.outputs[1:]))})


def test_a_new_price_moves_its_ingredient_alone() -> None:
    kitchen = a_topside_kitchen(a_dish("grilled-cap", a_line("cut topside-cap", "800", "g")))
    dearer = replace(kitchen, prices={"beef-topside": (a_price("15.90"),)})
    assert changed_nodes(kitchen, dearer) == [("ingredient", "beef-topside")]


def test_a_portion_weight_moves_the_dishes_that_count_the_cut_and_no_others() -> None:
    kitchen = with_outputs(a_topside_kitchen(), portion_weight_kg="0.267")
    cut = kitchen.breakdowns["topside-seamed"].outputs[0].cut
    kitchen = replace(kitchen, dishes={
        dish.code: dish for dish in (a_dish("counted", a_line(f"cut {cut}", "2", "each")),
                                     a_dish("weighed", a_line(f"cut {cut}", "534", "g")))})
    assert changed_nodes(kitchen, with_outputs(kitchen, portion_weight_kg="0.25")) == [("dish", "counted")]


def test_another_labour_rate_is_compiled_from_nothing() -> None:
    kitchen = a_topside_kitchen()
    other = replace(kitchen, settings=replace(some_settings(), labour_rate_per_hour=Decimal(99)))
    assert changed_nodes(kitchen, other) is None


def test_a_recipe_that_turns_the_order_is_compiled_from_nothing() -> None:
    """Alphabetical order had the glaze first; once it uses the stock, the stock comes first."""
    glaze, stock = a_recipe("glaze", a_line("cut topside-cap")), a_recipe("stock", a_line("cut topside-cap"))
    kitchen = a_topside_kitchen(glaze, stock)
    turned = replace(kitchen, recipes={**kitchen.recipes, "glaze": a_recipe("glaze", a_line("recipe stock"))})
    assert changed_nodes(kitchen, turned) is None


def test_a_yield_test_moves_the_cuts_of_its_breakdown() -> None:
    kitchen = a_topside_kitchen(a_dish("grilled-cap", a_line("cut topside-cap", "800", "g")))
    plan = replace(kitchen.breakdowns["topside-seamed"], yields_from=YieldsFrom.TESTS)
    kitchen = replace(kitchen, breakdowns={plan.code: plan})
    test = YieldTest(plan.code, kitchen.day, "kg", Decimal(10), tuple(
        WeighedOutput(output.cut, Decimal(9) / len(plan.outputs)) for output in plan.outputs), Mark(9, 1))
    moved = changed_nodes(kitchen, replace(kitchen, yield_tests={plan.code: (test,)}))
    assert moved is not None
    assert ("cut", "topside-cap") in moved
    assert {kind for kind, _ in moved} <= {"breakdown", "cut"}
