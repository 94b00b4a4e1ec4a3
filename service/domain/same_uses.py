"""Whether two kitchens use the same things and declare the same allergens: then all that follows the records, and not
the figures, is the same in both."""

from collections.abc import Callable, Mapping
from typing import Any

from service.domain.kitchen import KitchenOnDay
from service.domain.record_changes import differing
from service.domain.uses import used_by_lines


def uses_alike(before: KitchenOnDay, after: KitchenOnDay) -> bool:
    """Whether every record that stands uses what it used, and every ingredient declares what it declared."""
    return (_alike(before.ingredients, after.ingredients, lambda ingredient: ingredient.allergens)
            and _alike(before.breakdowns, after.breakdowns, lambda plan: (
                plan.in_use, plan.input, [output.cut for output in plan.cuts]))
            and _alike(before.recipes, after.recipes, lambda recipe: used_by_lines(recipe.lines))
            and _alike(before.dishes, after.dishes, lambda dish: used_by_lines(dish.lines)))


def _alike(before: Mapping[str, Any], after: Mapping[str, Any], used: Callable[[Any], object]) -> bool:
    moved = differing(before, after)
    return moved is not None and all(used(before[code]) == used(after[code]) for code in moved)
