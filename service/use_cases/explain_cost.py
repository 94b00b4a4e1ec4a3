"""Explain a cost: the working of a dish, a cut or a recipe, down to the supplier's price."""

from service.domain.errors import NotFound
from service.domain.explanation import explain_cut, explain_dish, explain_recipe
from service.domain.kitchen import Kitchen
from service.domain.working_tree import Explanation
from service.use_cases.snapshot import Snapshot


def dish_working(kitchen: Kitchen, snapshot: Snapshot, code: str) -> Explanation:
    """How a dish's costs, percentages and target price came about. `kitchen` is as known at the snapshot's revision.

    Raises:  NotFound when no such dish stands on the snapshot's day.
    """
    if code not in snapshot.kitchen.dishes:
        raise NotFound(f"There is no dish {code!r} on {snapshot.position.day}.")
    return explain_dish(code, kitchen, snapshot.kitchen, snapshot.costing)


def cut_working(kitchen: Kitchen, snapshot: Snapshot, code: str) -> Explanation:
    """How the cost of a kg of a cut came about.

    Raises:  NotFound when no breakdown in use makes it on the snapshot's day.
    """
    if ("cut", code) not in snapshot.network.index:
        raise NotFound(f"No breakdown in use makes a cut {code!r} on {snapshot.position.day}.")
    return explain_cut(code, kitchen, snapshot.kitchen, snapshot.costing)


def recipe_working(kitchen: Kitchen, snapshot: Snapshot, code: str) -> Explanation:
    """How the cost of a recipe came about.

    Raises:  NotFound when no such recipe stands on the snapshot's day.
    """
    if code not in snapshot.kitchen.recipes:
        raise NotFound(f"There is no recipe {code!r} on {snapshot.position.day}.")
    return explain_recipe(code, kitchen, snapshot.kitchen, snapshot.costing)
