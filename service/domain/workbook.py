"""A workbook that computes: a kitchen's costs from the supplier's price to the margin, as sheets of live formulas.

A pure description, which a writer turns into a file. Rules that always hold:

- every formula stands beside what it gives now, worked out by the core in exact fractions;
- figures are rounded once, in the cells that publish them, and from cells that are not rounded;
- material and labour are apart from the price to the dish;
- what is not known is not available, never zero.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from service.domain.currency import minor_unit
from service.domain.live_table import Table
from service.domain.workbook_breakdowns import breakdown_tables
from service.domain.workbook_dishes import dish_tables
from service.domain.workbook_front import front_table, ranking_table
from service.domain.workbook_prices import prices_table
from service.domain.workbook_recipes import recipe_tables
from service.domain.workbook_source import WorkbookSource
from service.domain.workbook_units import conversions_table


@dataclass(frozen=True, slots=True)
class LiveWorkbook:
    """Sheets in their order, and what each defined name stands for.

    Shape:   `ranking` is the one that the chart is drawn from.
    """

    revision: int
    day: date
    currency: str
    money_places: int
    tables: tuple[Table, ...]
    ranking: Table
    names: Mapping[str, str]


def live_workbook(source: WorkbookSource, revision: int) -> LiveWorkbook:
    """The workbook of what the source shows."""
    names: dict[str, str] = {}
    day, currency = source.kitchen.day, source.kitchen.settings.currency
    front = front_table(source, revision, day, names)
    prices, conversions = prices_table(source, names), conversions_table(source, names)
    breakdowns, cuts = breakdown_tables(source, names)
    recipes, recipe_lines = recipe_tables(source, names)
    dishes, dish_lines = dish_tables(source)
    ranking = ranking_table(dishes)
    tables = (front, dishes, ranking, dish_lines, recipes, recipe_lines, breakdowns, cuts, prices, conversions)
    return LiveWorkbook(revision, day, currency, minor_unit(currency), tables, ranking, names)
