"""How long a menu's workbook takes, against writing as many cells of plain numbers with the same library.

    python -m tests.benchmarks.workbook

One kitchen of records a size: ten lines a dish of goods, cuts and recipes. Rounds are interleaved; seconds are of the
processor. The ratio says what the formulas, their values and their looks cost over what the library must cost.
"""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from random import Random
from statistics import median
from time import process_time

from xlsxwriter import Workbook

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.kitchen import KitchenOnDay
from service.domain.live_table import Entry, Given, Label, Live
from service.domain.workbook import LiveWorkbook, live_workbook
from service.domain.workbook_source import WorkbookSource
from service.integrations.workbook.writing import workbook_bytes
from tests.benchmarks.results import Asked, Result, ratios
from tests.builders import a_dish, a_kitchen, a_line, a_price, a_primal, a_recipe, a_seamed_topside, an_ingredient

SIZES, ROUNDS, LINES, GOODS = (50, 500, 1_000), 5, 10, 200
CUTS = ("topside-cap", "topside-roast", "topside-mince")


def a_menu(dishes: int) -> KitchenOnDay:
    """An invented menu: a recipe for every five dishes, made of goods."""
    chance = Random(dishes)
    goods = [an_ingredient(f"good-{n}") for n in range(GOODS)]
    prices = [a_price(str(Decimal(chance.randint(50, 4_000)) / 100), ingredient=good.code) for good in goods]
    recipes = [a_recipe(f"recipe-{n}", *(a_line(f"ingredient good-{chance.randrange(GOODS)}", "0.35")
                                         for _ in range(LINES))) for n in range(max(1, dishes // 5))]
    plates = [a_dish(f"dish-{n}", *_lines(chance, len(recipes)), menu_price="22", allowance_percent="2")
              for n in range(dishes)]
    return a_kitchen(a_primal(), a_price(), a_seamed_topside(), *goods, *prices, *recipes, *plates)


def _lines(chance: Random, recipes: int) -> list[object]:
    things = [f"ingredient good-{chance.randrange(GOODS)}" for _ in range(LINES - 3)]
    return [*(a_line(thing, "85", "g", yield_percent="90") for thing in things), a_line(f"cut {chance.choice(CUTS)}"),
            *(a_line(f"recipe recipe-{chance.randrange(recipes)}", "120", "ml") for _ in range(2))]


def plain(workbook: LiveWorkbook) -> bytes:
    """As many cells, in the same places: numbers and texts without formula or format."""
    target = BytesIO()
    with Workbook(target, {"in_memory": True}) as book:
        for table in workbook.tables:
            sheet = book.add_worksheet(table.name)
            for row, cells in enumerate(table.rows):
                for place, column in enumerate(table.columns):
                    match cells.get(column.key):
                        case Label(text):
                            sheet.write_string(row, place, text)
                        case Entry(value) | Given(value) | Live(_, value) if isinstance(value, Decimal | Fraction):
                            sheet.write_number(row, place, float(value))
    return target.getvalue()


def measured(dishes: int, rounds: int) -> tuple[Mapping[str, Sequence[float]], int, int]:
    """Processor seconds of each part, round by round; lines; bytes."""
    kitchen = a_menu(dishes)
    costing, took = cascade(compile_network(kitchen)), {"describe": [], "write": [], "plain": []}
    for _ in range(rounds):
        source = WorkbookSource(kitchen, costing)
        start = process_time()
        workbook = live_workbook(source, 1)
        described = process_time()
        size = len(workbook_bytes(workbook))
        written = process_time()
        plain(workbook)
        for name, seconds in (("describe", described - start), ("write", written - described),
                              ("plain", process_time() - written)):
            took[name].append(seconds)
    return took, source.lines, size


def results(asked: Asked) -> Iterator[Result]:
    """The whole workbook over as many plain cells."""
    for dishes in asked.of((5,), (50, 500), SIZES):
        took, _, _ = measured(dishes, asked.rounds)
        whole = [describe + write for describe, write in zip(took["describe"], took["write"], strict=True)]
        yield Result(f"a workbook of {dishes} dishes, formulas and looks", "as many plain cells",
                     ratios(whole, took["plain"]))


def main() -> None:
    """Print medians and ratios."""
    print(f"{'dishes':>7}{'lines':>8}{'describe':>11}{'write':>9}{'plain':>9}{'ratio':>7}{'MB':>7}")
    for dishes in SIZES:
        took, lines, size = measured(dishes, ROUNDS)
        describe, write, reference = (median(took[name]) for name in ("describe", "write", "plain"))
        print(f"{dishes:>7}{lines:>8}{describe:>10.2f}s{write:>8.2f}s{reference:>8.2f}s"
              f"{(describe + write) / reference:>7.1f}{size / 1e6:>7.2f}")


if __name__ == "__main__":
    main()
