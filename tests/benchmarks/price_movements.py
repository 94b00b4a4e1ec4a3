"""What moved over thirty days: the movements of a whole menu beside costing every day of them from nothing.

    python -m tests.benchmarks.price_movements [dishes ...] [--days 30]

An invented catalogue as records: as many goods as dishes, a tenth of them broken down, recipes that nest two deep,
dishes of eight lines. Every day eight prices start; on the tenth day a list of half of all prices; every fifth day a
recipe and a dish change. Times are processor seconds of this process, the least of three.
"""

import argparse
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from service.domain.breakdown import BreakdownInput
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.dish import Dish
from service.domain.history import Mark, Version
from service.domain.ingredient_weights import menu_weights
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.price import Price
from service.domain.price_movement import price_movements
from service.domain.recipe import Line, Recipe
from service.domain.supplier import Supplier
from tests.benchmarks.results import Asked, Result, ratios
from tests.builders import a_breakdown, a_by_product, a_loss, a_main, an_ingredient, some_settings, some_trim

START = date(2026, 3, 1)
EVERY_DAY, LIST_DAY, CHANGES = 8, 10, 5


class Draft:
    """The records of a catalogue, drawn from a seed."""

    def __init__(self, dishes: int, seed: int = 11) -> None:
        self.chance = Random(seed)
        self.goods = [f"good-{n}" for n in range(dishes)]
        self.cuts = [f"cut-{n}-{part}" for n in range(dishes // 10) for part in ("main", "trim")]
        self.plain = [f"plain-{n}" for n in range(dishes // 3)]
        self.rich = [f"rich-{n}" for n in range(dishes // 5)]

    def line(self, *kinds: tuple[str, list[str]]) -> Line:
        kind, codes = self.chance.choice(kinds)
        return Line(Decimal(self.chance.randint(5, 900)), "g", **{kind: self.chance.choice(codes)},
                    yield_percent=Decimal(self.chance.choice([100, 100, 88, 92, 75])))

    def recipe(self, code: str, below: tuple[tuple[str, list[str]], ...]) -> Recipe:
        return Recipe(code, code, Decimal(self.chance.randint(10, 60)) / 10, "kg", tuple(
            self.line(*below) for _ in range(8)))

    def dish(self, code: str) -> Dish:
        below = (("ingredient", self.goods), ("ingredient", self.goods), ("cut", self.cuts), ("recipe", self.plain),
                 ("recipe", self.rich))
        return Dish(code, code, Decimal(4), tuple(self.line(*below) for _ in range(8)), allowance_percent=Decimal(2))

    def price(self, code: str, day: date, mark: Mark) -> Price:
        amount = Decimal(self.chance.randint(50, 4000)) / 100
        return Price(code, "fenmoor", amount, Decimal(1), "kg", day, None, "", mark)


def a_moving_catalogue(dishes: int, days: int) -> Kitchen:
    """A kitchen of so many dishes, and what changes in it over so many days."""
    draft = Draft(dishes)
    goods, cuts = (("ingredient", draft.goods),) * 4, (("cut", draft.cuts),)
    recipes = {code: draft.recipe(code, goods + cuts) for code in draft.plain}
    recipes |= {code: draft.recipe(code, (*goods, ("recipe", draft.plain))) for code in draft.rich}
    menu = {code: draft.dish(code) for code in (f"dish-{n}" for n in range(dishes))}
    kitchen = replace(
        EMPTY, revision=10_000, settings=(Version(some_settings(), Mark(1, 1)),),
        suppliers=histories({"fenmoor": Supplier("fenmoor", "Fenmoor Yard")}),
        ingredients=histories({code: an_ingredient(code) for code in draft.goods}),
        breakdowns=histories({f"seamed-{n}": a_breakdown(
            a_main(f"cut-{n}-main", "0.55"), some_trim(f"cut-{n}-trim", "0.25"), a_by_product(f"fat-{n}", "0.1", "0.2"),
            a_loss(f"skin-{n}", "0.05"), code=f"seamed-{n}", input=BreakdownInput(ingredient=f"good-{n}"))
            for n in range(dishes // 10)}),
        recipes=histories(recipes), dishes=histories(menu))
    prices = {code: [draft.price(code, START - timedelta(days=60), Mark(2, place))]
              for place, code in enumerate(draft.goods, 1)}
    for day in range(1, days + 1):
        on, revision = START + timedelta(days=day), 100 + day
        moved = draft.chance.sample(draft.goods, len(draft.goods) // 2 if day == LIST_DAY else EVERY_DAY)
        for entry, code in enumerate(moved, 1):
            prices[code].append(draft.price(code, on, Mark(revision, entry)))
        if day % CHANGES == 0:
            recipe, dish = draft.chance.choice(draft.plain), draft.chance.choice(sorted(menu))
            kitchen = kitchen.with_version("recipe", recipe, Version(
                draft.recipe(recipe, goods), Mark(revision, 9_001), on))
            kitchen = kitchen.with_version("dish", dish, Version(draft.dish(dish), Mark(revision, 9_002), on))
    return replace(kitchen, prices={code: tuple(each) for code, each in prices.items()})


def histories(records: dict[str, Any]) -> dict[str, tuple[Version[Any], ...]]:
    return {code: (Version(record, Mark(1, 1)),) for code, record in records.items()}


def every_day_from_nothing(kitchen: Kitchen, days: int) -> list[Any]:
    """The plain way to both ends and all between: what the movements are held against."""
    costs = []
    for day in range(days + 1):
        standing = kitchen.on(START + timedelta(days=day))
        costing = cascade(compile_network(standing))
        costs.append({code: costing.material(("dish", code)) for code in standing.dishes})
    return costs


def least_of_three(work: Callable[[], Any]) -> tuple[float, Any]:
    taken = []
    for _ in range(3):
        start = time.process_time()
        result = work()
        taken.append(time.process_time() - start)
    return min(taken), result


def seconds_of(work: Callable[[], Any], rounds: int) -> list[float]:
    """Processor seconds of the work, round by round."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return taken


def results(asked: Asked) -> Iterator[Result]:
    """The movements of thirty days over costing every day of them from nothing."""
    dishes, days = asked.of((20, 3), (500, 30), (500, 30))
    kitchen = a_moving_catalogue(dishes, days)
    yield Result(f"movements of {days} days, {dishes} dishes", "costing every day of them from nothing", ratios(
        seconds_of(lambda: price_movements(kitchen, START, START + timedelta(days=days)), asked.rounds),
        seconds_of(lambda: every_day_from_nothing(kitchen, days), asked.rounds)))


def main() -> None:
    """Print the times."""
    asked = argparse.ArgumentParser()
    asked.add_argument("dishes", type=int, nargs="*", default=[500])
    asked.add_argument("--days", type=int, default=30)
    options = asked.parse_args()
    for dishes in options.dishes:
        print(measured(dishes, options.days))


def measured(dishes: int, days: int) -> str:
    """One line of times."""
    kitchen, end = a_moving_catalogue(dishes, days), START + timedelta(days=days)
    network = compile_network(kitchen.on(end))
    moving, moved = least_of_three(lambda: price_movements(kitchen, START, end))
    plain, _ = least_of_three(lambda: every_day_from_nothing(kitchen, days))
    weighing, _ = least_of_three(lambda: menu_weights(network))
    shares = sum(len(dish.shares) for dish in moved.dishes)
    wrong = sum(dish.change != sum(dish.shares.values()) + dish.rounding + dish.other for dish in moved.dishes)
    return (f"{dishes} dishes, {days} days: movements {moving:.2f} s ({shares} shares, {wrong} dishes that do not add "
            f"up), {moving / plain:.2f} times costing every day from nothing; the menu's weights "
            f"{weighing * 1000:.0f} ms")


if __name__ == "__main__":
    main()
