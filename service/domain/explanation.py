"""The explanation of a published figure: its working, from the supplier's price up to the digits that were published.

What a dish, cut or recipe rests on is written from the bottom up, in dependency order, then its published figures.
Rules that always hold: material and labour are kept apart until a total is asked for; a figure that has no meaning (a
percentage of a menu price of zero, the share of a by-product) is left out, one that is not known is there without a
number; the outcomes are those of the cascade, to the last digit.
"""

from collections.abc import Iterable, Sequence
from fractions import Fraction

from service.domain.cascade import Costing
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.network import Key
from service.domain.recipe import Recipe
from service.domain.rounding import UNIT_COST_PLACES
from service.domain.working import How, Operation, Part, StepKey, decimals_to_carry
from service.domain.working_book import LABOUR, MATERIAL, WorkingBook
from service.domain.working_of_breakdowns import write_cut, write_pools
from service.domain.working_of_cuts import write_cut_figures
from service.domain.working_of_lines import write_dish, write_recipe
from service.domain.working_of_menu import write_menu
from service.domain.working_of_prices import write_ingredient
from service.domain.working_tree import ExplainedFigure, Explanation


def explain_dish(code: str, recorded: Kitchen, kitchen: KitchenOnDay, costing: Costing) -> Explanation:
    """How the costs of a dish came about, and what it earns. `kitchen` is what `recorded` is on the day.

    Raises:  KeyError for a dish that does not stand that day.
    """
    dish = kitchen.dishes[code]
    book = WorkingBook.of(recorded, kitchen, costing)
    _write_below(book, [("dish", code)], ("dish", code))
    return _explanation(book, recorded, ("dish", code), dish.name, write_menu(book, dish))


def explain_cut(code: str, recorded: Kitchen, kitchen: KitchenOnDay, costing: Costing) -> Explanation:
    """How the cost of a kg of a cut came about, down its chain of breakdowns.

    Raises:  KeyError for a cut that no breakdown in use makes that day.
    """
    book = WorkingBook.of(recorded, kitchen, costing)
    _, output = book.made[code]
    _write_below(book, _chain(book, code), ("cut", code))
    return _explanation(book, recorded, ("cut", code), output.name, write_cut_figures(book, code))


def explain_recipe(code: str, recorded: Kitchen, kitchen: KitchenOnDay, costing: Costing) -> Explanation:
    """How the cost of a recipe came about: of all that it makes, of a unit and of a base unit.

    Raises:  KeyError for a recipe that does not stand that day.
    """
    recipe = kitchen.recipes[code]
    book = WorkingBook.of(recorded, kitchen, costing)
    _write_below(book, [("recipe", code)], ("recipe", code))
    return _explanation(book, recorded, ("recipe", code), recipe.name, _recipe_figures(book, recipe))


def _write_below(book: WorkingBook, starts: Iterable[Key], told_in_full: Key) -> None:
    """Write all that the starts rest on, what is used before its users."""
    for key in book.below(starts):
        kind, code = key
        if kind == "ingredient":
            write_ingredient(book, code)
        elif kind == "breakdown":
            write_pools(book, code)
        elif kind == "cut":
            write_cut(book, code, key == told_in_full)
        elif kind == "recipe":
            write_recipe(book, code, key == told_in_full)
        else:
            write_dish(book, code)


def _chain(book: WorkingBook, cut: str) -> list[Key]:
    """The cut, and every breakdown down to what was bought, whether or not the cut carries any of its cost."""
    keys: list[Key] = [("cut", cut)]
    while cut in book.made and ("breakdown", book.made[cut][0].code) not in keys:
        breakdown = book.made[cut][0]
        keys.append(("breakdown", breakdown.code))
        cut = breakdown.input.cut or ""
    return keys


def _recipe_figures(book: WorkingBook, recipe: Recipe) -> Sequence[tuple[str, StepKey]]:
    record, key = book.records.kept("recipe", recipe.code), ("recipe", recipe.code)
    figures: list[tuple[str, StepKey]] = []
    quantities = (("", ("whole",), book.currency), ("_per_unit", ("unit cost",), book.money_per(recipe.makes_unit)),
                  ("_per_base_unit", (), book.money_per(book.unit_of(key))))
    for channel in (MATERIAL, LABOUR):
        book.steps.add(("unit cost", channel, *key), f"{recipe.name}: {channel} per {recipe.makes_unit}", record,
                       f"{channel} of all that it makes / quantity made", Operation.PRODUCT, [
            book.steps.part(("whole", channel, *key), How.MULTIPLY),
            Part("quantity made", Fraction(recipe.makes_quantity), How.DIVIDE, recipe.makes_unit)],
            book.money_per(recipe.makes_unit))
    for suffix, prefix, unit in quantities:
        total = book.steps.add(("total", suffix, *key), f"{recipe.name}: cost{suffix.replace('_', ' ')}", record,
                               "material + labour", Operation.SUM, [
            book.steps.part((*prefix, channel, *key), How.ADD) for channel in (MATERIAL, LABOUR)], unit)
        figures += [(f"material_cost{suffix}", (*prefix, MATERIAL, *key)),
                    (f"labour_cost{suffix}", (*prefix, LABOUR, *key)), (f"cost{suffix}", total)]
    return [(name, book.rounded(name, step, UNIT_COST_PLACES, record)) for name, step in figures]


def _explanation(book: WorkingBook, recorded: Kitchen, key: Key, name: str, figures: Sequence[tuple[str, StepKey]]
                 ) -> Explanation:
    told: set[StepKey] = set()
    explained = tuple(ExplainedFigure(figure, tuple(book.steps.below(step, told))) for figure, step in figures)
    decimals = decimals_to_carry([step for figure in explained for step in figure.steps])
    return Explanation(*key, name or key[1], book.kitchen.day, recorded.revision, book.currency, explained, decimals)
