"""The working of every figure adds up again, ends in the figure as published, and goes down to the supplier's price."""

from collections.abc import Iterator, Mapping
from typing import Any

from hypothesis import HealthCheck, given, settings

from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.cut_figures import CutSheet
from service.domain.explanation import explain_cut, explain_dish, explain_recipe
from service.domain.findings import Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.menu import dish_figures
from service.domain.network import Key
from service.domain.recipe_figures import recipe_figures
from service.domain.working_sheet import as_text
from service.domain.working_tree import Explanation
from tests.adding_up import every_step, faults_of
from tests.kitchens import kitchens
from tests.recorded import recorded

randomly = settings(max_examples=30, deadline=None,
                    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
OF_DISHES = ("food_cost", "labour_cost", "price_before_tax", "food_cost_percent", "gross_profit",
             "gross_profit_percent", "target_menu_price")
OF_CUTS = ("material_cost_per_kg", "labour_cost_per_kg", "cost_per_kg", "cost_per_portion", "yield",
           "yield_of_ingredient", "share_of_joint_cost", "cost_factor")
OF_RECIPES = tuple(f"{cost}{of}" for of in ("", "_per_unit", "_per_base_unit")
                   for cost in ("material_cost", "labour_cost", "cost"))
Explained = tuple[Key, Explanation, Mapping[str, Any], tuple[str, ...]]


def everything_explained(kitchen: KitchenOnDay, costing: Costing) -> Iterator[Explained]:
    """Every dish, cut and recipe, with its explanation, its row and the names of its explained figures."""
    known, sheet = recorded(kitchen), CutSheet(kitchen, costing)
    for code, dish in kitchen.dishes.items():
        costs = costing.figures(("dish", code))
        row = dish_figures(dish, kitchen.settings, costs.material, costs.labour, costs.known_material).as_published()
        yield ("dish", code), explain_dish(code, known, kitchen, costing), row, OF_DISHES
    for code in sheet.cuts:
        yield ("cut", code), explain_cut(code, known, kitchen, costing), sheet.figures(code).as_published(), OF_CUTS
    for code, recipe in kitchen.recipes.items():
        row = recipe_figures(recipe, kitchen.settings.currency, costing).as_published()
        yield ("recipe", code), explain_recipe(code, known, kitchen, costing), row, OF_RECIPES


def gaps_told(document: Mapping[str, Any]) -> set[tuple[str, str, str]]:
    return {(gap["code"], gap["kind"], gap["record"]) for step in every_step(dict(document)) for gap in step["gaps"]}


def triple(gap: Gap) -> tuple[str, str, str]:
    return (gap.code, gap.kind, gap.record)


@randomly
@given(kitchens())
def test_every_working_adds_up_and_ends_in_the_published_figure(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for key, explanation, row, names in everything_explained(kitchen, costing):
        document = explanation.as_document()
        assert faults_of(document) == [], key
        told = {figure["figure"]: figure for figure in document["figures"]}
        assert {name: told[name]["published"] for name in told} == {name: row[name] for name in told}, key
        assert {name: row[name] for name in names if name not in told and row[name] is not None} == {}, key
        for figure in document["figures"]:
            assert figure["steps"][-1]["out"]["value"] == figure["published"]


@randomly
@given(kitchens())
def test_every_gap_is_told_where_it_arises_and_of_a_dish_no_other(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for key, explanation, _, _ in everything_explained(kitchen, costing):
        needed = {triple(gap) for gap in costing.gaps(key)}
        told = gaps_told(explanation.as_document())
        assert told >= needed, key
        assert key[0] == "cut" or told == needed, key


@randomly
@given(kitchens())
def test_the_sheet_names_every_step_once_and_every_price_it_rests_on(kitchen: KitchenOnDay) -> None:
    costing = cascade(compile_network(kitchen))
    for _, explanation, _, _ in everything_explained(kitchen, costing):
        sheet = as_text(explanation)
        for number, step in enumerate(explanation.steps, 1):
            assert sheet.count(f"[{number}] {step.what} = ") == 1
            if step.record.kind == "price":
                more = step.record.more
                assert f"{more['amount']} for {more['pack_quantity']} {more['pack_unit']}" in sheet
