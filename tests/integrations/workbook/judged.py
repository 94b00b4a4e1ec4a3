"""What the independent judge says that every dish, cut and recipe of a kitchen should publish, by kind and code."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from service.domain.kitchen import KitchenOnDay
from tests.judge import Cost, Judge
from tests.judge_measures import UNITS, half_up
from tests.judge_menu import judged_dish


def judged(kitchen: KitchenOnDay) -> Mapping[str, Mapping[str, Any]]:
    """The verdicts, as strings with their decimals; None where there is no number."""
    judge = Judge(kitchen)
    dishes = {f"dish {code}": judged_dish(dish, kitchen.settings, judge.cost("dish", code))
              for code, dish in kitchen.dishes.items()}
    return dishes | {f"cut {cut}": _cut(judge, cut) for cut in judge.made} | {
        f"recipe {code}": _recipe(judge, code) for code in kitchen.recipes}


def _cut(judge: Judge, cut: str) -> dict[str, str | None]:
    verdict, output = judge.cut(cut), judge.made[cut][1]
    both, portion = _both(verdict.cost), output.portion_weight_kg
    figures = {
        "yield": verdict.yield_fraction, "yield_of_ingredient": verdict.yield_of_ingredient,
        "material_cost_per_kg": verdict.cost.material, "labour_cost_per_kg": verdict.cost.labour, "cost_per_kg": both,
        "cost_factor": verdict.factor, "share_of_joint_cost": verdict.share,
        "cost_per_portion": None if both is None or portion is None else both * Fraction(portion)}
    return {name: half_up(figure, 4) for name, figure in figures.items()}


def _recipe(judge: Judge, code: str) -> dict[str, str | None]:
    recipe, verdict = judge.kitchen.recipes[code], judge.cost("recipe", code)
    unit = UNITS[recipe.makes_unit][1]
    whole = unit * Fraction(recipe.makes_quantity)
    figures = {"known_material_cost": verdict.known * whole}
    for suffix, factor in (("_per_base_unit", Fraction(1)), ("_per_unit", unit), ("", whole)):
        for name, figure in (("material_cost", verdict.material), ("labour_cost", verdict.labour),
                             ("cost", _both(verdict))):
            figures[name + suffix] = None if figure is None else figure * factor
    return {name: half_up(figure, 4) for name, figure in figures.items()}


def _both(cost: Cost) -> Fraction | None:
    return None if cost.material is None or cost.labour is None else cost.material + cost.labour
