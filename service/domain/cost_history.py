"""The cost of a dish through time: its figures on each day on which one of them can change, as known now.

Rules that always hold: only the records below the dish are looked at; between two days of change nothing moves, so that
the figures of one hold until the next; days on which nothing published moved are left out; what comes into force later
stands in it too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.domain.cascade import cascade
from service.domain.change_causes import Cause
from service.domain.compile import compile_network
from service.domain.days_of_change import days_of_change
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.last_complete import kitchen_below
from service.domain.menu import DishFigures, dish_figures
from service.domain.timeline import started_on


@dataclass(frozen=True, slots=True)
class CostPoint:
    """From `day` on these are the dish's figures, until the next point. None: it is not on the menu.

    Shape:   `causes` are what starts or has ended that day below the dish; `kitchens` are those of the point before and
             of this one, for whoever says the causes in words.
    """

    day: date
    figures: DishFigures | None
    causes: Sequence[Cause]
    kitchens: tuple[KitchenOnDay, KitchenOnDay]


def cost_history(kitchen: Kitchen, dish: str, first: date, last: date, most: int) -> list[CostPoint]:
    """The points of a dish from one day to another, the first of them on `first`; of more days of change than `most`
    the latest."""
    below = kitchen_below(kitchen, ("dish", dish))
    days = {*days_of_change(below), *(version.effective_from for version in below.settings if version.effective_from)}
    later = sorted(day for day in days if first < day <= last)
    start = first if len(later) < most else later[-most]
    standing = below.on(start)
    points = [CostPoint(start, _figures(standing, dish), (), (standing, standing))]
    for day in later:
        if day > start:
            point = _point(below, dish, day, points[-1])
            if _published(point.figures) != _published(points[-1].figures):
                points.append(point)
    return points


def _point(below: Kitchen, dish: str, day: date, before: CostPoint) -> CostPoint:
    standing = below.on(day)
    return CostPoint(day, _figures(standing, dish), started_on(below, day), (before.kitchens[1], standing))


def _figures(kitchen: KitchenOnDay, code: str) -> DishFigures | None:
    dish = kitchen.dishes.get(code)
    if dish is None:
        return None
    costs = cascade(compile_network(kitchen)).figures(("dish", code))
    return dish_figures(dish, kitchen.settings, costs.material, costs.labour, costs.known_material)


def _published(figures: DishFigures | None) -> object:
    if figures is None:
        return None
    told = figures.as_published()
    return [told[name] for name in ("food_cost", "food_cost_percent", "menu_price", "target_food_cost_percent")]
