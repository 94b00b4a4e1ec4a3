"""Every resource that looks at the menu, what of it was sold and what it would be, and records nothing."""

from collections.abc import Iterator

from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.resources.allergens import allergens
from service.rest.resources.balance import balance
from service.rest.resources.menu_engineering import menu_engineering
from service.rest.resources.theoretical_food_cost import theoretical_food_cost
from service.rest.resources.what_if import what_if
from service.rest.resources.workings import workings


def every_menu_figure(positions: Positions) -> Iterator[Blueprint]:
    """What sales should have cost and who contributes, the balance of covers, what if, workings and allergens."""
    yield theoretical_food_cost(positions)
    yield menu_engineering(positions)
    yield balance(positions)
    yield what_if(positions)
    yield workings(positions)
    yield allergens(positions)
