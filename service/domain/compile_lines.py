"""Lines compiled into edges: how much of each child goes into one unit of a recipe or one portion of a dish.

The factor of a conversion is worked out once per child and unit; a line then costs two integer products and one
reduction. A line that cannot be converted, or names what does not stand, is a gap of its record in both channels; what
it uses still stands below, with factor nil, so that everything missing is told at once.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction

from service.domain.as_purchased import (
    Measure,
    as_purchased_ratio,
    makers,
    measure_of_cut,
    measure_of_ingredient,
    measure_of_recipe,
    missing_conversion,
    units_in_measure,
)
from service.domain.errors import MissingConversion
from service.domain.findings import Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.network import NIL, Edge, Key
from service.domain.recipe import Line


class LineCompiler:
    """Compiles the lines of one kitchen; keeps the unit factors it has worked out.

    `index` says where the nodes compiled so far stand; it grows while recipes are compiled in dependency order.
    """

    def __init__(self, kitchen: KitchenOnDay, index: Mapping[Key, int]) -> None:
        self._measures = measures_of(kitchen)
        self._index = index
        self._factors: dict[tuple[str, str, str], tuple[int, int] | Gap] = {}

    def edges(self, lines: Sequence[Line], units_made: Fraction) -> tuple[tuple[Edge, ...], tuple[Gap, ...]]:
        """The edges per unit made, and the gaps of lines that cannot be compiled, each once."""
        edges: list[Edge] = []
        gaps: list[Gap] = []
        made, of_one = units_made.as_integer_ratio()
        for line in lines:
            kind, code = key = line.uses
            factor = self._factors.get((kind, code, line.unit)) or self._factor(key, line.unit)
            child = self._index.get(key)
            if isinstance(factor, Gap):
                gaps.append(factor)
                if child is not None:
                    edges.append(Edge(child, NIL))
            elif child is not None:
                numerator, denominator = as_purchased_ratio(line)
                edges.append(Edge(child, Fraction(numerator * factor[0] * of_one, denominator * factor[1] * made)))
        return tuple(edges), tuple(dict.fromkeys(gaps))

    def _factor(self, key: Key, unit: str) -> tuple[int, int] | Gap:
        factor = unit_factor(key, unit, self._measures.get(key))
        kept = factor if isinstance(factor, Gap) else factor.as_integer_ratio()
        self._factors[key[0], key[1], unit] = kept
        return kept


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
