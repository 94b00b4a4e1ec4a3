"""Every published digit of every cut, recipe and dish equals the independent judge's, over random kitchens.

A hundred and fifty kitchens by default; SEAMCOST_JUDGE_KITCHENS says how many for the long run.
"""

import os
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.cut_figures import CutSheet
from service.domain.kitchen import KitchenOnDay
from service.domain.menu import dish_figures
from service.domain.quantity import unit_named
from service.domain.recipe_figures import recipe_figures
from tests.judge import Cost, Judge
from tests.judge_measures import UNITS, half_up
from tests.judge_menu import judged_dish
from tests.kitchens import kitchens

KITCHENS = int(os.environ.get("SEAMCOST_JUDGE_KITCHENS", "150"))
judged = settings(max_examples=KITCHENS, deadline=None,
                  suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


@pytest.mark.timeout(300 + KITCHENS)
@judged
@given(kitchens())
def test_every_published_digit_agrees_with_the_judge(kitchen: KitchenOnDay) -> None:
    costing, judge = cascade(compile_network(kitchen)), Judge(kitchen)
    _compare_cuts(kitchen, costing, judge)
    _compare_recipes(kitchen, costing, judge)
    _compare_dishes(kitchen, costing, judge)


def _compare_cuts(kitchen: KitchenOnDay, costing: Costing, judge: Judge) -> None:
    sheet = CutSheet(kitchen, costing)
    assert sheet.cuts == tuple(sorted(judge.made))
    for cut in sheet.cuts:
        verdict, published = judge.cut(cut), sheet.figures(cut).as_published()
        assert _picked(published, "yield_basis") == {"yield_basis": verdict.basis}
        expected = {
            "material_cost_per_kg": half_up(verdict.cost.material, 4),
            "labour_cost_per_kg": half_up(verdict.cost.labour, 4),
            "cost_per_kg": half_up(_both(verdict.cost), 4),
            "yield": half_up(verdict.yield_fraction, 4),
            "yield_of_ingredient": half_up(verdict.yield_of_ingredient, 4),
            "cost_factor": half_up(verdict.factor, 4),
            "share_of_joint_cost": half_up(verdict.share, 4),
        }
        assert _picked(published, *expected) == expected
        _compare_gaps(costing, ("cut", cut), verdict.cost)


def _compare_recipes(kitchen: KitchenOnDay, costing: Costing, judge: Judge) -> None:
    for code, recipe in kitchen.recipes.items():
        verdict = judge.cost("recipe", code)
        published = recipe_figures(recipe, "GBP", costing).as_published()
        unit = UNITS[recipe.makes_unit][1]
        expected = {}
        for suffix, factor in (("_per_base_unit", Fraction(1)), ("_per_unit", unit),
                               ("", unit * Fraction(recipe.makes_quantity))):
            for name, figure in (("material_cost", verdict.material), ("labour_cost", verdict.labour),
                                 ("cost", _both(verdict))):
                expected[name + suffix] = None if figure is None else half_up(figure * factor, 4)
        assert unit_named(recipe.makes_unit).factor == unit
        assert _picked(published, *expected) == expected
        _compare_gaps(costing, ("recipe", code), verdict)


def _compare_dishes(kitchen: KitchenOnDay, costing: Costing, judge: Judge) -> None:
    for code, dish in kitchen.dishes.items():
        verdict, figures = judge.cost("dish", code), costing.figures(("dish", code))
        published = dish_figures(
            dish, kitchen.settings, figures.material, figures.labour, figures.known_material).as_published()
        expected = judged_dish(dish, kitchen.settings, verdict)
        assert _picked(published, *expected) == expected
        _compare_gaps(costing, ("dish", code), verdict)


def _compare_gaps(costing: Costing, key: tuple[str, str], verdict: Cost) -> None:
    for gaps, judged_gaps in ((costing.material_gaps(key), verdict.gaps),
                              (costing.labour_gaps(key), verdict.labour_gaps)):
        assert {(gap.code, gap.kind, gap.record) for gap in gaps} == judged_gaps
        assert len(set(gaps)) == len(gaps)


def _both(cost: Cost) -> Fraction | None:
    return None if cost.material is None or cost.labour is None else cost.material + cost.labour


def _picked(published: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: published[name] for name in names}
