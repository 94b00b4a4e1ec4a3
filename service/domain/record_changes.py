"""What a compiled network has to follow when one kitchen on a day takes the place of another.

Records taken over are the very same objects, so that a kitchen of thousands is compared in about a millisecond.
"""

from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from datetime import date
from typing import Any

from service.domain.as_purchased import measure_of_cut, measure_of_ingredient, measure_of_recipe
from service.domain.breakdown import Breakdown
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.price import Price
from service.domain.very_same import others, others_of_either, same_keys
from service.domain.yield_test import YieldTest


@dataclass(frozen=True, slots=True)
class RecordChanges:
    """The codes of the records whose nodes have to be compiled anew.

    Shape:   `measured_otherwise` are things whose lines convert otherwise now; `uses_other_recipes`: a recipe is among
             the changed that names other recipes than before.
    """

    ingredients: Set[str]
    breakdowns: Set[str]
    recipes: Set[str]
    dishes: Set[str]
    measured_otherwise: Set[Key]
    uses_other_recipes: bool

    @classmethod
    def between(cls, before: KitchenOnDay, after: KitchenOnDay) -> "RecordChanges | None":
        """What changed; None where other nodes stand, the pools feed others, or labour costs otherwise everywhere."""
        ingredients = differing(before.ingredients, after.ingredients)
        planned = differing(before.breakdowns, after.breakdowns)
        recipes = differing(before.recipes, after.recipes)
        dishes = differing(before.dishes, after.dishes)
        if ingredients is None or planned is None or recipes is None or dishes is None:
            return None
        if before.settings.labour_rate_per_hour != after.settings.labour_rate_per_hour or any(
                _place(before.breakdowns[code]) != _place(after.breakdowns[code]) for code in planned):
            return None
        tested = set(_tested_otherwise(before, after))
        breakdowns = {code for code in planned | tested if code in after.breakdowns and after.breakdowns[code].in_use}
        bought = {after.breakdowns[code].input.ingredient or "" for code in breakdowns}
        priced = {*_priced_otherwise(before, after), *bought} & after.ingredients.keys()
        return cls(ingredients | priced, breakdowns, recipes, dishes,
                   {*_measured_otherwise(before, after, ingredients, breakdowns, recipes)},
                   any(_recipes_used(before, code) != _recipes_used(after, code) for code in recipes))


def differing(before: Mapping[str, Any], after: Mapping[str, Any]) -> set[str] | None:
    """The codes whose records differ; None where other codes stand."""
    if before is after:
        return set()
    if not same_keys(before, after):
        return None
    return {code for code in others(before, after) if before[code] != after[code]}


def _place(breakdown: Breakdown) -> object:
    """What decides where the breakdown's nodes stand: its input and its cuts, while it is in use."""
    return (breakdown.in_use, breakdown.in_use and (breakdown.input, [output.cut for output in breakdown.cuts]))


def _priced_otherwise(before: KitchenOnDay, after: KitchenOnDay) -> Iterator[str]:
    """Those of which a price is another, or starts or ends between the days."""
    first, last = sorted((before.day, after.day))
    yield from others_of_either(before.prices, after.prices)
    if first != last:
        yield from (code for code, prices in after.prices.items() if _turns(prices, first, last))


def _turns(prices: Iterable[Price], first: date, last: date) -> bool:
    """Whether one of the prices counts on one of the days and not on the other."""
    return any(first < price.effective_from <= last or (
        price.effective_to is not None and first <= price.effective_to < last) for price in prices)


def _tested_otherwise(before: KitchenOnDay, after: KitchenOnDay) -> Iterator[str]:
    """Breakdowns whose tests are others, or were made between the days."""
    first, last = sorted((before.day, after.day))
    for code in before.yield_tests.keys() | after.yield_tests.keys():
        tests = after.yield_tests.get(code, ())
        if tests is not before.yield_tests.get(code, ()) or _made_between(tests, first, last):
            yield code


def _made_between(tests: Iterable[YieldTest], first: date, last: date) -> bool:
    return any(first < test.tested_on <= last for test in tests)


def _measured_otherwise(before: KitchenOnDay, after: KitchenOnDay, ingredients: Set[str], breakdowns: Set[str],
                        recipes: Set[str]) -> Iterator[Key]:
    """What lines convert through otherwise than before."""
    for code in ingredients:
        if measure_of_ingredient(before.ingredients[code]) != measure_of_ingredient(after.ingredients[code]):
            yield "ingredient", code
    for code in recipes:
        if measure_of_recipe(before.recipes[code]) != measure_of_recipe(after.recipes[code]):
            yield "recipe", code
    for code in breakdowns:
        for was, output in zip(before.breakdowns[code].cuts, after.breakdowns[code].cuts, strict=True):
            if measure_of_cut(was) != measure_of_cut(output):
                yield "cut", output.cut


def _recipes_used(kitchen: KitchenOnDay, code: str) -> set[str]:
    return {line.recipe for line in kitchen.recipes[code].lines if line.recipe is not None}
