"""The working of lines, recipes and dishes: what goes into the pot, what it costs, and what a unit or portion does.

    as purchased     = edible portion / preparation yield / cooking yield
    line             = quantity as purchased x units in its unit x cost per unit
    recipe, per unit = (lines + its own labour) / quantity made
    dish, a portion  = lines x (1 + allowance) / portions for material, (lines + its own labour) / portions for labour
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from service.domain.compile_lines import unit_factor
from service.domain.dish import Dish
from service.domain.findings import Gap
from service.domain.network import ONE, Key
from service.domain.quantity import base_unit_of, unit_named
from service.domain.recipe import HUNDRED, Line, Recipe
from service.domain.rounding import text
from service.domain.working import How, Operation, Part, RecordUsed, StepKey
from service.domain.working_book import CHANNELS, LABOUR, MATERIAL, WorkingBook
from service.domain.working_of_prices import unit_parts


def write_recipe(book: WorkingBook, code: str, tell_all: bool = False) -> None:
    """The recipe's lines, what all of it costs, and what a base unit of it does, in both channels."""
    recipe = book.kitchen.recipes[code]
    record = book.records.kept("recipe", code)
    for channel in _channels(book, ("recipe", code), tell_all):
        whole = _write_whole(book, recipe, ("recipe", code), channel, record)
        parts = [book.steps.part(whole, How.MULTIPLY), *_made(recipe)]
        book.steps.add((channel, "recipe", code), f"{recipe.name}: {channel} per {base_unit_of(recipe.makes_unit)}",
                       record, f"{channel} of all that it makes / quantity made", Operation.PRODUCT, parts,
                       book.money_per(base_unit_of(recipe.makes_unit)))


def write_dish(book: WorkingBook, code: str) -> None:
    """The dish's lines, what all portions cost, and what one does, in both channels."""
    dish = book.kitchen.dishes[code]
    record = book.records.kept("dish", code)
    for channel in CHANNELS:
        whole = _write_whole(book, dish, ("dish", code), channel, record)
        parts = [book.steps.part(whole, How.MULTIPLY)]
        if channel == MATERIAL:
            allowance = Fraction(dish.allowance_percent) / 100
            parts.append(Part(f"1 + allowance of {text(dish.allowance_percent)} %", ONE + allowance, How.MULTIPLY))
        parts.append(Part("portions", Fraction(dish.portions), How.DIVIDE))
        what = "food cost of a portion" if channel == MATERIAL else "labour cost of a portion"
        formula = ("material of the lines x (1 + allowance) / portions" if channel == MATERIAL
                   else "labour of all portions / portions")
        book.steps.add((channel, "dish", code), f"{dish.name}: {what}", record, formula, Operation.PRODUCT, parts,
                       book.money_per("portion"))


def _channels(book: WorkingBook, key: Key, tell_all: bool) -> tuple[str, ...]:
    return CHANNELS if tell_all or book.costs_labour(key) else (MATERIAL,)


def _write_whole(book: WorkingBook, owner: Recipe | Dish, key: Key, channel: str, record: RecordUsed) -> StepKey:
    """The sum of the lines and, for labour, of the record's own minutes. What it lacks itself it tells here."""
    steps = [step for number, line in enumerate(owner.lines, 1)
             if (step := _write_line(book, key, number, line, channel, record)) is not None]
    told = book.told([*steps, *(child for step in steps for child in book.steps[step].children)])
    if channel == LABOUR and owner.labour_minutes:
        own = book.labour(("own labour", *key), f"{owner.name}: its own labour", Fraction(owner.labour_minutes), "",
                          record)
        steps.append(own)
        told |= book.told([book.labour_rate()])
    gaps = [gap for gap in book.own_gaps(key, channel) if gap not in told]
    formula = "sum of the lines" if channel == MATERIAL else "sum of the lines' labour and its own"
    return book.steps.add(("whole", channel, *key), f"{owner.name}: {channel} of the lines" if channel == MATERIAL
                          else f"{owner.name}: labour in all", record, formula, Operation.SUM,
                          [book.steps.part(step, How.ADD) for step in steps], book.currency, gaps)


def _write_line(book: WorkingBook, owner: Key, number: int, line: Line, channel: str, record: RecordUsed
                ) -> StepKey | None:
    """What a line costs; None for the labour of what costs none."""
    used = line.uses
    factor = unit_factor(used, line.unit, book.measures.get(used))
    gap = factor if isinstance(factor, Gap) else None
    if channel == LABOUR and gap is None and not _costs_labour(book, used):
        return None
    name = f"Line {number}, {book.name(used)}"
    parts = [_as_purchased(book, owner, number, line, name, record), *unit_parts(book, used, line.unit, How.MULTIPLY),
             book.cost_part(used, channel, How.MULTIPLY)]
    in_unit_step = gap is not None and used in book.measures
    return book.steps.add(("line", channel, *owner, str(number)), f"{name}: {channel}", record,
                          f"quantity as purchased x {channel} per {book.unit_of(used)}", Operation.PRODUCT, parts,
                          book.currency, () if gap is None or in_unit_step else (gap,), line.note)


def _costs_labour(book: WorkingBook, used: Key) -> bool:
    """Round a loop what is used has no cost yet, and the line must say so."""
    return used not in book.costing.network.index or book.costs_labour(used)


def _as_purchased(book: WorkingBook, owner: Key, number: int, line: Line, name: str, record: RecordUsed) -> Part:
    """The quantity that goes into the pot: a step of its own where something is lost (or gained) on the way."""
    quantity = Fraction(line.quantity)
    yields = [_yield_part(words, percent) for words, percent in (
        ("preparation yield", line.yield_percent), ("cooking yield", line.cooking_yield_percent)) if percent != HUNDRED]
    if not yields:
        return Part("quantity as purchased", quantity, How.MULTIPLY, line.unit)
    key = ("as purchased", *owner, str(number))
    if key not in book.steps:
        book.steps.add(key, f"{name}: quantity as purchased", record,
                       " / ".join(["edible portion", *(part.name.split(" of ")[0] for part in yields)]),
                       Operation.PRODUCT, [Part("edible portion", quantity, How.MULTIPLY, line.unit), *yields],
                       line.unit)
    return book.steps.part(key, How.MULTIPLY, "quantity as purchased")


def _yield_part(words: str, percent: Decimal) -> Part:
    return Part(f"{words} of {text(percent)} %", Fraction(percent) / 100, How.DIVIDE)


def _made(recipe: Recipe) -> Sequence[Part]:
    """The quantity made, in the unit that its costs are per."""
    unit = unit_named(recipe.makes_unit)
    base = base_unit_of(recipe.makes_unit)
    parts = [Part("quantity made", Fraction(recipe.makes_quantity), How.DIVIDE, recipe.makes_unit)]
    if unit.factor != ONE:
        parts.append(Part(f"{base} in one {unit.name}", unit.factor, How.DIVIDE, f"{base} per {unit.name}"))
    return parts
