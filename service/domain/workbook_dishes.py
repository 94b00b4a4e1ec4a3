"""The sheet of dishes: what a portion costs and earns, and what it is sold on.

    food cost        = material of the lines x (1 + allowance) / portions
    price before tax = menu price / (1 + tax), or the menu price itself where menu prices exclude tax
    target price     = food cost / target x (1 + tax), up to the next price step

A step up and a pool's sign are settled on the ninth decimal, since a spreadsheet counts in binary: 16.80 times a
step of 0.05 is a whole number of steps there too.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.dish import Dish
from service.domain.kitchen_settings import KitchenSettings
from service.domain.live_table import Band, Cell, Column, Entry, Form, Label, Live, Table, known
from service.domain.menu import DishFigures, dish_figures
from service.domain.rounding import PERCENT_PLACES, UNIT_COST_PLACES, published
from service.domain.workbook_formulas import choice, of_minutes, published_as, state_of
from service.domain.workbook_lines import add_lines, lines_table
from service.domain.workbook_names import (
    DEFAULT_TARGET,
    DEFAULT_TAX,
    PRICE_STEP,
    PRICES_INCLUDE_TAX,
    section_target,
)
from service.domain.workbook_source import WorkbookSource

_BILLION = 10**9


def dish_tables(source: WorkbookSource) -> tuple[Table, Table]:
    """The sheets of dishes and of their lines."""
    currency = source.kitchen.settings.currency
    dishes = Table("Dishes", "Dishes", "What a portion of each dish costs and earns. Change a yellow cell here or on "
                   "any other sheet, and see the dish move.", _columns(currency))
    lines = lines_table("Dish lines", "Dish", currency)
    for dish in source.dishes:
        rows = add_lines(lines, source, ("dish", dish.code), dish.name or dish.code, dish.lines)
        dishes.add(_line(source, dish, lines, rows, dishes.next_row))
    return dishes, lines


def _columns(currency: str) -> Sequence[Column]:
    return (
        Column("name", "Dish", Form.TEXT, Band.NAMES, 34),
        Column("section", "Section", Form.TEXT, Band.NAMES, 14),
        Column("menu_price", f"Menu price, {currency}", Form.MONEY, Band.ENTRIES, 11),
        Column("own_tax", "Own tax %", Form.NUMBER, Band.ENTRIES, 9),
        Column("own_target", "Own target %", Form.NUMBER, Band.ENTRIES, 9),
        Column("portions", "Portions", Form.NUMBER, Band.ENTRIES, 9),
        Column("allowance", "Allowance %", Form.NUMBER, Band.ENTRIES, 10),
        Column("minutes", "Minutes in all", Form.NUMBER, Band.ENTRIES, 9),
        Column("food_cost", f"Food cost, {currency}", Form.COST, Band.PUBLISHED, 11),
        Column("food_cost_percent", "Food cost %", Form.PERCENT, Band.PUBLISHED, 9),
        Column("target_percent", "Target %", Form.PERCENT, Band.PUBLISHED, 9),
        Column("within", "Within target", Form.TEXT, Band.PUBLISHED, 9),
        Column("gross_profit", f"Gross profit, {currency}", Form.COST, Band.PUBLISHED, 11),
        Column("gross_profit_percent", "Gross profit %", Form.PERCENT, Band.PUBLISHED, 9),
        Column("labour_cost", f"Labour cost, {currency}", Form.COST, Band.PUBLISHED, 11),
        Column("price_before_tax", "Price before tax", Form.COST, Band.PUBLISHED, 11),
        Column("target_menu_price", "Target menu price", Form.MONEY, Band.PUBLISHED, 11),
        Column("state", "Status", Form.TEXT, Band.PUBLISHED, 12),
        Column("known_food_cost", "Food cost at least", Form.COST, Band.PUBLISHED, 11),
        Column("lines_material", "Lines, material", Form.COST, Band.WORKING),
        Column("lines_labour", "Lines, labour", Form.COST, Band.WORKING),
        Column("own_labour", "Labour here", Form.COST, Band.WORKING),
        Column("tax", "Tax %", Form.PERCENT, Band.WORKING),
        Column("target", "Target %", Form.PERCENT, Band.WORKING),
        Column("food", "Food cost", Form.COST, Band.WORKING),
        Column("before_tax", "Price before tax", Form.COST, Band.WORKING),
        Column("percent", "Food cost %", Form.COST, Band.WORKING),
        Column("over_target", "Over target, to rank by", Form.COST, Band.WORKING),
        Column("missing", "Missing when this copy was made", Form.TEXT, Band.WORKING, 50),
        Column("code", "Code", Form.TEXT, Band.WORKING, 24),
        Column("pos_code", "POS code", Form.TEXT, Band.WORKING, 12),
    )


def _line(source: WorkbookSource, dish: Dish, lines: Table, rows: tuple[int, int], row: int) -> dict[str, Cell]:
    costs, settings = source.costing.figures(("dish", dish.code)), source.kitchen.settings
    figures = dish_figures(dish, settings, costs.material, costs.labour, costs.known_material)
    cells: dict[str, Cell] = {
        "name": Label(dish.name or dish.code), "section": Label(dish.section), "code": Label(dish.code),
        "pos_code": Label(dish.pos_code or ""), "menu_price": Entry(dish.menu_price),
        "own_tax": Entry(dish.tax_rate_percent), "own_target": Entry(dish.target_food_cost_percent),
        "portions": Entry(dish.portions), "allowance": Entry(dish.allowance_percent),
        "minutes": Entry(dish.labour_minutes), "missing": Label(source.missing(("dish", dish.code))),
        "lines_material": lines.summed("material", *rows), "lines_labour": lines.summed("labour", *rows),
        "own_labour": of_minutes(dish.labour_minutes, settings),
    }
    return cells | _working(figures, row, settings) | _published(figures, lines.sum("at_least", *rows))


def _working(figures: DishFigures, row: int, settings: KitchenSettings) -> dict[str, Cell]:
    terms, percent = figures.terms, figures.food_cost_percent
    over: Fraction | str = "" if percent is None else percent - terms.target * 100 - Fraction(row, _BILLION)
    return {
        "tax": Live(f"IF(ISNUMBER({{own_tax}}),{{own_tax}},{known(DEFAULT_TAX)})", terms.tax_rate * 100),
        "target": Live(f"IF(ISNUMBER({{own_target}}),{{own_target}},{_without_own(figures.dish, settings)})",
                       terms.target * 100),
        "food": Live("{lines_material}*(1+[allowance]/100)/[portions]", figures.food_cost),
        "before_tax": Live(f"[menu_price]/{_WITH_TAX}", figures.price_before_tax),
        "percent": Live("IF({before_tax}=0,NA(),{food}/{before_tax}*100)", percent),
        "over_target": Live(f'IF(ISNUMBER({{percent}}),{{percent}}-{{target}}-ROW()/{_BILLION},"")', over)}


def _without_own(dish: Dish, settings: KitchenSettings) -> str:
    """The formula of the target of a dish that has none of its own: its section's, else the house's."""
    sections = [one.section for one in settings.section_targets]
    if dish.section not in sections:
        return known(DEFAULT_TARGET)
    name = section_target(sections.index(dish.section))
    return f"IF(ISNUMBER({name}),{name},{known(DEFAULT_TARGET)})"


_WITH_TAX = f'(1+IF({PRICES_INCLUDE_TAX}="{choice(True)}",{{tax}}/100,0))'
_STEPS = f"ROUNDUP(ROUND({{food}}/({{target}}/100)*{_WITH_TAX}/{PRICE_STEP},9),0)*{PRICE_STEP}"


def _published(figures: DishFigures, at_least: str) -> dict[str, Cell]:
    places, profit = figures.terms.places, "({before_tax}-{food})"
    within = None if figures.within_target is None else choice(figures.within_target)
    labour = "({lines_labour}+{own_labour})/[portions]"
    return {
        "food_cost": published_as("{food}", figures.food_cost, UNIT_COST_PLACES),
        "known_food_cost": published_as(f"{at_least}*(1+[allowance]/100)/[portions]", figures.known_food_cost,
                                        UNIT_COST_PLACES),
        "labour_cost": published_as(labour, figures.labour_cost, UNIT_COST_PLACES),
        "price_before_tax": published_as("{before_tax}", figures.price_before_tax, UNIT_COST_PLACES),
        "food_cost_percent": published_as("{percent}", figures.food_cost_percent, PERCENT_PLACES),
        "gross_profit": published_as(profit, figures.gross_profit, UNIT_COST_PLACES),
        "gross_profit_percent": published_as(f"IF({{before_tax}}=0,NA(),{profit}/{{before_tax}}*100)",
                                             figures.gross_profit_percent, PERCENT_PLACES),
        "target_percent": Live(f"ROUND({{target}},{PERCENT_PLACES})",
                               published(figures.terms.target * 100, PERCENT_PLACES)),
        "target_menu_price": published_as(f"IF({{target}}>0,{_STEPS},NA())", figures.target_menu_price, places),
        "within": Live('IF({food_cost_percent}<={target_percent},"yes","no")', within),
        "state": state_of("{food}+{labour_cost}", figures.status == "complete")}
