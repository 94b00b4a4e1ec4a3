"""The judge of a dish's margin, from its food cost: what should be published, digit by digit."""

from decimal import Decimal
from fractions import Fraction
from math import ceil
from typing import Any

from service.domain.dish import Dish
from service.domain.kitchen_settings import KitchenSettings
from tests.judge import Cost
from tests.judge_measures import half_up

MINOR_UNITS = {"GBP": 2, "JPY": 0, "KWD": 3}
"""ISO 4217, the three that the tests use."""


def judged_dish(dish: Dish, settings: KitchenSettings, cost: Cost) -> dict[str, Any]:
    """What GET /dish-costs should say of the dish's money, as strings."""
    places = MINOR_UNITS[settings.currency]
    rate = Fraction(settings.default_tax_rate_percent if dish.tax_rate_percent is None else dish.tax_rate_percent) / 100
    on_top = 1 + rate if settings.menu_prices_include_tax else Fraction(1)
    basis, target = _target(dish, settings)
    price = None if dish.menu_price is None else Fraction(dish.menu_price)
    net = None if price is None else price / on_top
    food = cost.material
    percent = None if food is None or not net else 100 * food / net
    profit = None if food is None or net is None else net - food
    return {
        "status": "complete" if not cost.gaps and not cost.labour_gaps else "incomplete",
        "food_cost": half_up(food, 4),
        "known_food_cost": half_up(cost.known, 4),
        "labour_cost": half_up(cost.labour, 4),
        "menu_price": half_up(price, places),
        "price_before_tax": half_up(net, 4),
        "food_cost_percent": half_up(percent, 2),
        "gross_profit": half_up(profit, 4),
        "gross_profit_percent": None if profit is None or not net else half_up(100 * profit / net, 2),
        "target_food_cost_percent": half_up(Fraction(target), 2),
        "target_basis": basis,
        "target_menu_price": half_up(_target_price(food, target, on_top, settings, places), places),
        "within_target": None if percent is None else Decimal(half_up(percent, 2) or "") <= Decimal(
            half_up(Fraction(target), 2) or ""),
    }


def _target(dish: Dish, settings: KitchenSettings) -> tuple[str, Decimal]:
    """The first there is: the dish's own, its section's, the house's."""
    of_sections = {one.section: one.target_food_cost_percent for one in settings.section_targets}
    offered = [("dish", dish.target_food_cost_percent), ("section", of_sections.get(dish.section)),
               ("house", settings.default_target_food_cost_percent)]
    return next((basis, target) for basis, target in offered if target is not None)


def _target_price(food: Fraction | None, target: Decimal, on_top: Fraction, settings: KitchenSettings,
                  places: int) -> Fraction | None:
    if food is None or target == 0:
        return None
    step = Fraction(1, 10**places) if settings.price_step is None else Fraction(settings.price_step)
    return ceil(food * 100 / Fraction(target) * on_top / step) * step
