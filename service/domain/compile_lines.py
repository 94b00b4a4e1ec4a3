"""Lines compiled into edges: how much of each child goes into one unit of a recipe or one portion of a dish.

The factor of a conversion is worked out once per child and unit, that of yields once per pair of them; a line then
costs a few integer products and one reduction. A line that cannot be converted, or names what does not stand, is a gap
of its record in both channels; what it uses still stands below, with factor nil, so that all that is missing is told.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from service.domain.as_purchased import (
    Measure,
    kept_of,
    makers,
    measure_of_cut,
    measure_of_ingredient,
    measure_of_recipe,
    missing_conversion,
    units_in_measure,
)
from service.domain.breakdown import Breakdown, Output
from service.domain.errors import MissingConversion
from service.domain.findings import Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Edge, Key
from service.domain.recipe import Line


@dataclass(frozen=True, slots=True)
class Part:
    """What all lines that use a thing in one unit have in common.

    One such unit is `numerator / denominator` of what the child's costs are per; nil beside a gap.
    """

    child: int | None
    numerator: int
    denominator: int
    gap: Gap | None


class LineCompiler:
    """Compiles the lines of one kitchen; keeps what it has worked out for lines alike.

    `index` says where the nodes compiled so far stand; it grows while recipes are compiled in dependency order.
    """

    def __init__(self, kitchen: KitchenOnDay, index: Mapping[Key, int]) -> None:
        self._measures = _Measures(kitchen)
        self._index = index
        self._parts: dict[tuple[str, str, str], Part] = {}
        self._kept: dict[tuple[Decimal, Decimal], tuple[int, int]] = {}

    def edges(self, lines: Sequence[Line], units_made: Fraction) -> tuple[tuple[Edge, ...], tuple[Gap, ...]]:
        """The edges per unit made, and the gaps of lines that cannot be compiled, each once."""
        edges: list[Edge] = []
        gaps: dict[Gap, None] = {}
        parts, kepts, (made, of_one) = self._parts, self._kept, units_made.as_integer_ratio()
        for line in lines:
            kind, code = line.uses
            part = parts.get((kind, code, line.unit)) or self._part(kind, code, line.unit)
            if part.child is not None:
                yields = (line.yield_percent, line.cooking_yield_percent)
                kept, whole = kepts.get(yields) or self._yields(yields)
                quantity, of = line.quantity.as_integer_ratio()
                factor = Fraction(quantity * part.numerator * whole * of_one, of * part.denominator * kept * made)
                edges.append(Edge(part.child, factor))
            if part.gap is not None:
                gaps[part.gap] = None
        return tuple(edges), tuple(gaps)

    def _part(self, kind: str, code: str, unit: str) -> Part:
        child = self._index.get((kind, code))
        factor = unit_factor((kind, code), unit, self._measures.get((kind, code)))
        part = Part(child, 0, 1, factor) if isinstance(factor, Gap) else Part(child, *factor.as_integer_ratio(), None)
        if child is not None:  # what stands on a loop has its node later
            self._parts[kind, code, unit] = part
        return part

    def _yields(self, yields: tuple[Decimal, Decimal]) -> tuple[int, int]:
        ratio = kept_of(*yields).as_integer_ratio()
        self._kept[yields] = ratio
        return ratio


class _Measures:
    """The measures of a kitchen, each looked up when a line asks for it: a few lines compiled anew ask for few."""

    def __init__(self, kitchen: KitchenOnDay) -> None:
        self._kitchen = kitchen
        self._makers: Mapping[str, tuple[Breakdown, Output]] | None = None

    def get(self, key: Key) -> Measure | None:
        kind, code = key
        if kind == "ingredient":
            ingredient = self._kitchen.ingredients.get(code)
            return None if ingredient is None else measure_of_ingredient(ingredient)
        if kind == "recipe":
            recipe = self._kitchen.recipes.get(code)
            return None if recipe is None else measure_of_recipe(recipe)
        if self._makers is None:
            self._makers = makers(self._kitchen)
        made = self._makers.get(code)
        return None if made is None else measure_of_cut(made[1])


def measures_of(kitchen: KitchenOnDay) -> dict[Key, Measure]:
    """What the costs of everything a line may use are per. What does not stand, or is not made, is not in it."""
    measures: dict[Key, Measure] = {}
    for code, ingredient in kitchen.ingredients.items():
        measures["ingredient", code] = measure_of_ingredient(ingredient)
    for code, (_, output) in makers(kitchen).items():
        measures["cut", code] = measure_of_cut(output)
    for code, recipe in kitchen.recipes.items():
        measures["recipe", code] = measure_of_recipe(recipe)
    return measures


def unit_factor(key: Key, unit: str, measure: Measure | None) -> Fraction | Gap:
    """How many units that costs are per one `unit` is; or why that cannot be said."""
    if measure is None:
        return not_there(key)
    try:
        return units_in_measure(unit, measure)
    except MissingConversion:
        return missing_conversion(key, unit, measure.unit)


def not_there(key: Key) -> Gap:
    """What a line or breakdown names and that day does not have."""
    kind, code = key
    if kind == "cut":
        return Gap("not_made", kind, code, f"No breakdown in use makes the cut {code}: put one in use that does.")
    return Gap("not_in_force", kind, code, f"The {kind} {code} is not in force that day: revive it, or use another.")
