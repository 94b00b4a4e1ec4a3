"""The working of what a dish earns: price before tax, percentages, gross profit, target menu price.

    price before tax = menu price / (1 + tax rate), or the menu price itself where menu prices exclude tax
    food-cost %      = food cost / price before tax x 100
    gross profit     = price before tax - food cost
    target price     = food cost / target food cost x (1 + tax rate), rounded up to the price step

What the dish leaves to the kitchen's settings is a step that names them.
"""

from collections.abc import Iterator
from fractions import Fraction

from service.domain.dish import Dish
from service.domain.menu import TargetBasis, Terms, terms_of
from service.domain.network import ONE
from service.domain.publication import percent_in_words
from service.domain.rounding import PERCENT_PLACES, UNIT_COST_PLACES
from service.domain.working import How, Operation, Part, RecordUsed, StepKey
from service.domain.working_book import LABOUR, MATERIAL, WorkingBook

HUNDRED = Fraction(100)
Figure = tuple[str, StepKey]


def write_menu(book: WorkingBook, dish: Dish) -> list[Figure]:
    """The published figures of a dish whose costs are written, each with the step that rounds it."""
    record, terms = book.records.kept("dish", dish.code), terms_of(dish, book.kitchen.settings)
    figures = [("food_cost", (MATERIAL, "dish", dish.code), UNIT_COST_PLACES),
               ("labour_cost", (LABOUR, "dish", dish.code), UNIT_COST_PLACES),
               *_earned(book, dish, terms, record), *_target(book, dish, terms, record)]
    return [(name, book.rounded(name, step, places, record)) for name, step, places in figures]


def _earned(book: WorkingBook, dish: Dish, terms: Terms, record: RecordUsed) -> Iterator[tuple[str, StepKey, int]]:
    """What rests on the menu price; nothing without one, and no percentages of one of zero."""
    if dish.menu_price is None:
        return
    food_cost = (MATERIAL, "dish", dish.code)
    per = book.money_per("portion")
    before_tax = _before_tax(book, dish, terms, record, Fraction(dish.menu_price))
    gross_profit = book.steps.add(("gross profit", dish.code), "Gross profit, before labour", record,
                                  "price before tax - food cost", Operation.SUM, [
        book.steps.part(before_tax, How.ADD), book.steps.part(food_cost, How.SUBTRACT)], per)
    yield "price_before_tax", before_tax, UNIT_COST_PLACES
    if dish.menu_price:
        yield "food_cost_percent", _percent(book, "Food-cost %", food_cost, before_tax, record), PERCENT_PLACES
    yield "gross_profit", gross_profit, UNIT_COST_PLACES
    if dish.menu_price:
        yield "gross_profit_percent", _percent(book, "Gross profit %", gross_profit, before_tax, record), PERCENT_PLACES


def _before_tax(book: WorkingBook, dish: Dish, terms: Terms, record: RecordUsed, menu_price: Fraction) -> StepKey:
    key, per = ("price before tax", dish.code), book.money_per("portion")
    if not book.kitchen.settings.menu_prices_include_tax:
        return book.steps.add(key, "Price before tax", record, "the menu price, which excludes tax", Operation.GIVEN,
                              [Part("menu price", menu_price, How.TAKE, per)], per)
    return book.steps.add(key, "Price before tax", record, "menu price / (1 + tax rate)", Operation.PRODUCT, [
        Part("menu price", menu_price, How.MULTIPLY, per),
        book.steps.part(_with_tax(book, dish, terms), How.DIVIDE)], per)


def _with_tax(book: WorkingBook, dish: Dish, terms: Terms) -> StepKey:
    """1 + the tax rate, from the dish or the settings; a step of its own, since it may be either's."""
    key = ("with tax", dish.code)
    if key in book.steps:
        return key
    own = dish.tax_rate_percent is not None
    included = book.kitchen.settings.menu_prices_include_tax
    record = book.records.kept("dish", dish.code) if own and included else book.records.settings()
    rate = percent_in_words(terms.tax * 100)
    formula = "1 + tax rate" if included else "menu prices exclude tax"
    return book.steps.add(key, f"1 + tax rate of {rate} %", record, formula, Operation.SUM, [
        Part("price before tax", ONE, How.ADD), Part(f"tax of {rate} %", terms.tax, How.ADD)],
        note="the dish's own rate" if own and included else "the kitchen's setting")


def _percent(book: WorkingBook, what: str, part: StepKey, whole: StepKey, record: RecordUsed) -> StepKey:
    of = book.steps[part].what.split(": ")[-1].lower()
    parts = [book.steps.part(part, How.MULTIPLY), book.steps.part(whole, How.DIVIDE),
             Part("percent", HUNDRED, How.MULTIPLY)]
    return book.steps.add((what, *part), what, record, f"{of} / price before tax x 100", Operation.PRODUCT, parts, "%")


def _target(book: WorkingBook, dish: Dish, terms: Terms, record: RecordUsed) -> Iterator[tuple[str, StepKey, int]]:
    """The menu price that would meet the target; none for a target of zero."""
    if terms.target <= 0:
        return
    per = book.money_per("portion")
    sought = book.steps.add(("price sought", dish.code), "Menu price at the target food cost", record,
                            "food cost / target food cost x (1 + tax rate)", Operation.PRODUCT, [
        book.steps.part((MATERIAL, "dish", dish.code), How.MULTIPLY),
        book.steps.part(_target_food_cost(book, dish, terms), How.DIVIDE),
        book.steps.part(_with_tax(book, dish, terms), How.MULTIPLY)], per)
    stepped = book.steps.add(("price in steps", dish.code), "Menu price, in whole steps", record,
                             "rounded up to the price step", Operation.ROUND_UP, [
        book.steps.part(sought, How.TAKE), book.steps.part(_price_step(book, terms), How.BY)], per)
    yield "target_menu_price", stepped, terms.places


def _target_food_cost(book: WorkingBook, dish: Dish, terms: Terms) -> StepKey:
    own = terms.target_basis is TargetBasis.DISH
    record = book.records.kept("dish", dish.code) if own else book.records.settings()
    percent = percent_in_words(terms.target * 100)
    whose = {TargetBasis.DISH: "the dish's own target", TargetBasis.HOUSE: "the kitchen's setting",
             TargetBasis.SECTION: f"the kitchen's setting for the section {dish.section}"}
    return book.steps.add(("target food cost", dish.code), f"Target food cost of {percent} %", record, "as recorded",
                          Operation.GIVEN, [Part(f"{percent} %", terms.target, How.TAKE)],
                          note=whose[terms.target_basis])


def _price_step(book: WorkingBook, terms: Terms) -> StepKey:
    recorded = book.kitchen.settings.price_step is not None
    formula = "as recorded" if recorded else f"the minor unit of {book.currency}"
    return book.steps.add(("price step",), "Price step", book.records.settings(), formula, Operation.GIVEN,
                          [Part("price step", terms.step, How.TAKE, book.currency)], book.currency)
