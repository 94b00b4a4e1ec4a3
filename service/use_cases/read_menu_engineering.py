"""Read the menu engineering of a period: which dishes are popular and which contribute, as documents.

Money has 4 decimals, percentages 2 and the popularity line 4, each rounded once; the lines are compared exactly, so
that a dish whose published figure equals that of the line may be just below it: `over` says on which side.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from service.domain.cascade import in_order
from service.domain.dishes_chosen import CodeSold, DishesChosen, dishes_chosen, sections_of
from service.domain.errors import WrongValue
from service.domain.exact_sums import less
from service.domain.history import recorded_last
from service.domain.kitchen import Kitchen
from service.domain.menu_engineering import DishInMatrix, Matrix, MenuClass, menu_matrix
from service.domain.publication import cost_in_words, in_words, percent_in_words
from service.use_cases.cost_rows import gap_documents
from service.use_cases.documents import Document
from service.use_cases.ports import Ledger
from service.use_cases.read_theoretical_food_cost import Period
from service.use_cases.theoretical_food_cost_rows import portions_in_words

LINE_PLACES = 4


@dataclass(frozen=True, slots=True)
class Engineered:
    """The matrix of a period, of one section or the whole menu (None)."""

    period: Period
    section: str | None
    kitchen: Kitchen
    chosen: DishesChosen
    matrix: Matrix


def engineered(ledger: Ledger, kitchen: Kitchen, period: Period, section: str | None) -> Engineered:
    """What was chosen in a period, and where each dish stands; `kitchen` is that of its position."""
    chosen = dishes_chosen(kitchen, ledger.sales.days(period.first, period.last, period.revision), section)
    return Engineered(period, section, kitchen, chosen, menu_matrix(chosen.dishes))


def hold_to_section(kitchen: Kitchen, section: str | None) -> None:
    """Hold a section that is asked for to those that dishes name.

    Raises:  WrongValue at `section`.
    """
    there = sections_of(kitchen)
    if section is not None and section not in there:
        named = ", ".join(repr(each) for each in there) or "none"
        raise WrongValue(f"No dish has the section {section!r}; the sections are {named}.", parameter="section")


def menu_engineering_document(found: Engineered) -> Document:
    """The whole answer."""
    period, matrix = found.period, found.matrix
    gaps = (*matrix.gaps, *found.chosen.gaps)
    return {
        "from": period.first.isoformat(), "to": period.last.isoformat(), "section": found.section,
        "revision": period.revision, "currency": found.kitchen.settings_on(period.last).currency,
        "status": "incomplete" if gaps else "complete", "gaps": gap_documents(gaps), "sales_days": len(period.recorded),
        "covers": portions_in_words(matrix.covers), "dishes_counted": len(matrix.dishes),
        "popularity_line_percent": percent_in_words(matrix.popularity_line_percent),
        "popularity_line": in_words(matrix.popularity_line, LINE_PLACES),
        "contribution": cost_in_words(matrix.contribution),
        "mean_contribution": cost_in_words(matrix.mean_contribution),
        "price_before_tax": cost_in_words(matrix.price), "food_cost": cost_in_words(matrix.food_cost),
        "food_cost_percent": percent_in_words(matrix.food_cost_percent),
        "classes": {each.value: sum(dish.menu_class is each for dish in matrix.dishes) for each in MenuClass},
        "dishes": [_dish(found, dish) for dish in matrix.dishes],
        "not_counted": [_named(found.kitchen, code) | {"reason": why.value}
                        for code, why in found.chosen.not_counted.items()],
        "pos_codes_without_dish": [_code(each) for each in found.chosen.codes]}


def menu_engineering_rows(found: Engineered) -> Iterator[Document]:
    """Each dish as a row of its own, with the lines that it is held against."""
    told = menu_engineering_document(found)
    of = {name: told[name] for name in ("from", "to", "revision", "currency", "popularity_line", "mean_contribution")}
    for dish in told["dishes"]:
        yield dish | of


def _dish(found: Engineered, dish: DishInMatrix) -> Document:
    sales, line, mean = dish.sales, found.matrix.popularity_line, found.matrix.mean_contribution
    return _named(found.kitchen, sales.code) | {
        "covers": portions_in_words(sales.covers), "share_percent": percent_in_words(dish.share_percent),
        "price_before_tax": cost_in_words(_each(sales.price, sales.covers)),
        "food_cost": cost_in_words(_each(sales.food_cost, sales.covers)),
        "contribution": cost_in_words(sales.contribution),
        "total_contribution": cost_in_words(sales.total_contribution),
        "covers_over_line": in_words(less(sales.covers, line), LINE_PLACES),
        "contribution_over_mean": cost_in_words(less(sales.contribution, mean)),
        "popular": dish.popular, "contributing": dish.contributing,
        "class": None if dish.menu_class is None else dish.menu_class.value,
        "gaps": gap_documents(in_order(sales.gaps))}


def _named(kitchen: Kitchen, code: str) -> Document:
    record = recorded_last(kitchen.dishes[code]).record
    return {"dish": code, "name": record.name, "section": record.section, "pos_code": record.pos_code}


def _code(each: CodeSold) -> Document:
    return {"pos_code": each.pos_code, "reason": each.bearers.resolved.value, "dishes": list(each.bearers.dishes),
            "covers": portions_in_words(each.covers)}


def _each(whole: Fraction | None, covers: Fraction) -> Fraction | None:
    """Of a portion."""
    return None if whole is None else whole / (covers or 1)
