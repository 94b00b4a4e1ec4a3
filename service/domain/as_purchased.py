"""As purchased: how much of something a line takes, in the unit that its costs are per.

    AP = quantity / (preparation yield x cooking yield)

A line's quantity is what is left after preparation and cooking (EP); with no yields the two are the same. Costs are
per kg, l or each: an ingredient's base unit, the base unit of what a recipe makes, a kg of a cut. Quantities convert
only through the own conversions of what is used; `each` of a cut is its portion weight.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from service.domain.breakdown import Breakdown, Output
from service.domain.findings import Gap
from service.domain.ingredient import Ingredient
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.quantity import Conversion, base_unit_of, convert
from service.domain.recipe import Line, Recipe


@dataclass(frozen=True, slots=True)
class Measure:
    """What the costs of something are per, and the conversions that lead there."""

    unit: str
    conversions: Sequence[Conversion] = ()


def measure_of_ingredient(ingredient: Ingredient) -> Measure:
    return Measure(ingredient.base_unit, ingredient.conversions)


def measure_of_cut(output: Output) -> Measure:
    return Measure("kg", output.conversions)


def measure_of_recipe(recipe: Recipe) -> Measure:
    return Measure(base_unit_of(recipe.makes_unit), recipe.conversions)


def makers(kitchen: KitchenOnDay) -> dict[str, tuple[Breakdown, Output]]:
    """Every cut that a breakdown in use makes, with that breakdown and the output. Losses are not cuts."""
    made: dict[str, tuple[Breakdown, Output]] = {}
    for _, breakdown in sorted(kitchen.breakdowns.items()):
        if breakdown.in_use:
            for output in breakdown.cuts:
                made.setdefault(output.cut, (breakdown, output))
    return made


def as_purchased(line: Line) -> Fraction:
    """What goes into the pot, in the line's own unit.

    Example: 800 g of a cut that keeps 75 % in cooking are 1 066.67 g as purchased.
    """
    return Fraction(line.quantity) / kept_of(line.yield_percent, line.cooking_yield_percent)


def kept_of(yield_percent: Decimal, cooking_yield_percent: Decimal) -> Fraction:
    """What part is left after preparation and cooking. Losses multiply, they do not add.

    Example: 80 % after trimming and 75 % after cooking are 0.60.
    """
    return Fraction(yield_percent) * Fraction(cooking_yield_percent) / 10_000


def units_in_measure(unit: str, measure: Measure) -> Fraction:
    """How many of the measure's unit one `unit` is.

    Raises:  MissingConversion, UnknownUnit.
    """
    return convert(Fraction(1), unit, measure.unit, measure.conversions)


def missing_conversion(key: Key, unit: str, to_unit: str) -> Gap:
    """The gap that a conversion removed later leaves. One a pair of dimensions, however many lines need it."""
    kind, code = key
    here, there = base_unit_of(unit), base_unit_of(to_unit)
    mend = "give it a portion_weight_kg" if kind == "cut" and here == "each" else f"say how many {there} one {here} is"
    return Gap("missing_conversion", kind, code, f"The {kind} {code} has no conversion from {here} to {there}: {mend}.",
               {"unit": here, "to_unit": there})
