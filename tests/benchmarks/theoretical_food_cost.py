"""What a month's sales should have cost: beside costing every day of it from nothing.

    python -m tests.benchmarks.theoretical_food_cost [dishes ...] [--days 31]

The invented catalogue of the price movements, in which prices start every day and a list, recipes and dishes change;
every dish is sold every day. Times are processor seconds of this process, the least of three.
"""

import argparse
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from random import Random

from service.domain.history import Mark
from service.domain.kitchen import Kitchen
from service.domain.sales import SaleKind, SalesDay, SalesLine
from service.domain.theoretical_food_cost import theoretical_food_cost
from tests.benchmarks.price_movements import (
    START,
    a_moving_catalogue,
    every_day_from_nothing,
    least_of_three,
    seconds_of,
)
from tests.benchmarks.results import Asked, Result, ratios

SECTIONS = 6


def with_codes(kitchen: Kitchen) -> Kitchen:
    """Every dish with a code of the POS, in one of some sections."""
    return replace(kitchen, dishes={
        code: tuple(replace(version, record=replace(version.record, pos_code=code, section=str(place % SECTIONS)))
                    for version in history) for place, (code, history) in enumerate(kitchen.dishes.items())})


def a_month_of_sales(kitchen: Kitchen, days: int) -> list[SalesDay]:
    """Every dish, every day; one line in twelve is a comp or a staff meal."""
    chance = Random(3)
    return [SalesDay(START + timedelta(days=day), tuple(
        SalesLine(code, Decimal(chance.randint(1, 400)) / 10, Decimal(0), chance.choice(
            [SaleKind.COMP, SaleKind.STAFF_MEAL])) if chance.random() < 1 / 12 else
        SalesLine(code, Decimal(chance.randint(1, 400)) / 10, Decimal(chance.randint(100, 90_000)) / 100)
        for code in kitchen.dishes), Mark(20_000, day + 1)) for day in range(days)]


def results(asked: Asked) -> Iterator[Result]:
    """A month of sales over costing every day of it from nothing."""
    dishes, days = asked.of((20, 3), (500, 31), (500, 31))
    kitchen = with_codes(a_moving_catalogue(dishes, days))
    sales = a_month_of_sales(kitchen, days)
    yield Result(f"{days} days of sales, {dishes} dishes", "costing every day of them from nothing", ratios(
        seconds_of(lambda: theoretical_food_cost(kitchen, sales), asked.rounds),
        seconds_of(lambda: every_day_from_nothing(kitchen, days - 1), asked.rounds)))


def main() -> None:
    """Print the times."""
    asked = argparse.ArgumentParser()
    asked.add_argument("dishes", type=int, nargs="*", default=[500])
    asked.add_argument("--days", type=int, default=31)
    options = asked.parse_args()
    for dishes in options.dishes:
        print(measured(dishes, options.days))


def measured(dishes: int, days: int) -> str:
    """One line of times."""
    kitchen = with_codes(a_moving_catalogue(dishes, days))
    sales = a_month_of_sales(kitchen, days)
    taken, found = least_of_three(lambda: theoretical_food_cost(kitchen, sales))
    plain, _ = least_of_three(lambda: every_day_from_nothing(kitchen, days - 1))
    one_day, _ = least_of_three(lambda: theoretical_food_cost(kitchen, sales[-1:]))
    return (f"{dishes} dishes, {days} days, {sum(len(day.lines) for day in sales)} lines: {taken:.2f} s "
            f"({'complete' if found.total.is_complete else 'incomplete'}), {taken / plain:.2f} times costing every day "
            f"from nothing; one day {one_day * 1000:.0f} ms")


if __name__ == "__main__":
    main()
