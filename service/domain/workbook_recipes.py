"""The sheet of recipes: what each makes, and what that costs, material and labour apart.

    cost = sum of lines + minutes x rate / 60;  per base unit = cost / (quantity made x base units in one)
"""

from collections.abc import Mapping, Sequence

from service.domain.live_table import Band, Cell, Column, Entry, Form, Given, Label, Live, Table
from service.domain.publication import total
from service.domain.quantity import base_unit_of, unit_named
from service.domain.recipe import Recipe
from service.domain.recipe_figures import Costs, recipe_figures
from service.domain.rounding import UNIT_COST_PLACES
from service.domain.workbook_formulas import of_minutes, published_as, state_of
from service.domain.workbook_lines import add_lines, lines_table
from service.domain.workbook_names import known_of, labour_of, material_of
from service.domain.workbook_source import WorkbookSource

_WHOLE: Mapping[str, tuple[str, str]] = {
    "": ("{lines_material}", "{whole_labour}"),
    "_per_unit": ("{material}*{factor}", "{labour}*{factor}"),
    "_per_base_unit": ("{material}", "{labour}")}


def recipe_tables(source: WorkbookSource, names: dict[str, str]) -> tuple[Table, Table]:
    """The sheets of recipes and of their lines; what formulas elsewhere use gets its name."""
    currency = source.kitchen.settings.currency
    recipes = Table("Recipes", "Recipes", "What is made to be used: its cost in all, per unit as it is made, and per "
                    "kg, l or each.", _columns(currency))
    lines = lines_table("Recipe lines", "Recipe", currency)
    for recipe in source.recipes:
        rows = add_lines(lines, source, ("recipe", recipe.code), recipe.name or recipe.code, recipe.lines)
        row = recipes.add(_line(source, recipe, lines, rows))
        key = ("recipe", recipe.code)
        for name, column in ((material_of(key), "material"), (labour_of(key), "labour"),
                             (known_of(recipe.code), "at_least")):
            names[name] = recipes.address(column, row)
    return recipes, lines


def _columns(currency: str) -> Sequence[Column]:
    costs = [(f"{kind}_cost{suffix}".removeprefix("_"), f"{kind.capitalize()}{' c' if kind else 'C'}ost{words}")
             for suffix, words in (("", ""), ("_per_unit", " per unit"), ("_per_base_unit", " per base unit"))
             for kind in ("material", "labour", "")]
    return (
        Column("name", "Recipe", Form.TEXT, Band.NAMES, 34),
        Column("makes", "Makes", Form.NUMBER, Band.ENTRIES, 10),
        Column("unit", "of unit", Form.TEXT, Band.NAMES, 10),
        Column("minutes", "Minutes in all", Form.NUMBER, Band.ENTRIES, 10),
        Column("state", "Status", Form.TEXT, Band.PUBLISHED, 12),
        *(Column(key, f"{header}, {currency}", Form.COST, Band.PUBLISHED) for key, header in costs),
        Column("known_material_cost", "Material at least", Form.COST, Band.PUBLISHED),
        Column("factor", "Base units in one unit", Form.NUMBER, Band.WORKING),
        Column("base_unit", "Base unit", Form.TEXT, Band.WORKING, 10),
        Column("lines_material", "Lines, material", Form.COST, Band.WORKING),
        Column("lines_labour", "Lines, labour", Form.COST, Band.WORKING),
        Column("own_labour", "Labour here", Form.COST, Band.WORKING),
        Column("whole_labour", "Labour in all", Form.COST, Band.WORKING),
        Column("material", "Material per base unit", Form.COST, Band.WORKING),
        Column("labour", "Labour per base unit", Form.COST, Band.WORKING),
        Column("at_least", "Material per base unit at least", Form.COST, Band.WORKING, 14),
        Column("missing", "Missing when this copy was made", Form.TEXT, Band.WORKING, 50),
        Column("code", "Code", Form.TEXT, Band.WORKING, 24),
    )


def _line(source: WorkbookSource, recipe: Recipe, lines: Table, rows: tuple[int, int]) -> dict[str, Cell]:
    settings = source.kitchen.settings
    figures = recipe_figures(recipe, settings.currency, source.costing)
    whole = figures.whole
    made = "([makes]*{factor})"
    cells: dict[str, Cell] = {
        "name": Label(recipe.name or recipe.code), "code": Label(recipe.code), "unit": Label(recipe.makes_unit),
        "makes": Entry(recipe.makes_quantity), "minutes": Entry(recipe.labour_minutes),
        "factor": Given(unit_named(recipe.makes_unit).factor), "base_unit": Label(base_unit_of(recipe.makes_unit)),
        "missing": Label(source.missing(("recipe", recipe.code))),
        "state": state_of("{material}+{labour}", whole.cost is not None),
        "lines_material": lines.summed("material", *rows),
        "lines_labour": lines.summed("labour", *rows),
        "own_labour": of_minutes(recipe.labour_minutes, settings),
        "whole_labour": Live("{lines_labour}+{own_labour}", whole.labour),
        "material": Live("{lines_material}/" + made, figures.per_base_unit.material),
        "labour": Live("{whole_labour}/" + made, figures.per_base_unit.labour),
        "at_least": Live(f"{lines.sum('at_least', *rows)}/{made}", figures.per_base_unit.known_material),
        "known_material_cost": published_as("{at_least}*" + made, whole.known_material, UNIT_COST_PLACES),
    }
    return cells | _published("", whole) | _published("_per_unit", figures.per_unit) | _published(
        "_per_base_unit", figures.per_base_unit)


def _published(suffix: str, costs: Costs) -> dict[str, Cell]:
    material, labour = _WHOLE[suffix]
    return {
        f"material_cost{suffix}": published_as(material, costs.material, UNIT_COST_PLACES),
        f"labour_cost{suffix}": published_as(labour, costs.labour, UNIT_COST_PLACES),
        f"cost{suffix}": published_as(f"{material}+{labour}", total(costs.material, costs.labour), UNIT_COST_PLACES)}

