"""Which ingredients bring an allergen into a dish, by which way, and what can be said of those that nobody declared.

Rules that always hold: a dish contains what some ingredient reached from it declares, however far below; what brings
an allergen in is every such ingredient, each with a shortest way down to it; each record is visited once, so that loops
and missing records end. Where something below declares nothing, what is not known to be in the dish is unknown, never
none.
"""

from collections import deque
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from service.domain.allergen_lists import ALLERGENS, RELATED
from service.domain.ingredient import Ingredient
from service.domain.network import Key
from service.domain.uses import Uses

Way = tuple[Key, ...]


class AllergenState(StrEnum):
    """What can be said of one allergen in one dish."""

    CONTAINS = "contains"
    RELATED_DECLARED = "related_declared"
    UNKNOWN = "unknown"
    NONE_DECLARED = "none_declared"


@dataclass(frozen=True, slots=True)
class DishAllergens:
    """What brings each allergen into a dish, and what below it declares nothing.

    Shape:   `brought_in` has every allergen of the lists, with a way for each ingredient that declares it; ways start
             at the dish, the shortest come first. `not_declared` leads to ingredients without a declaration, and to
             whatever is named and does not stand that day.
    """

    brought_in: Mapping[str, tuple[Way, ...]]
    not_declared: tuple[Way, ...]

    def state(self, allergen: str) -> AllergenState:
        """What can be said of an allergen."""
        declared = [word for word, ways in self.brought_in.items() if ways]
        return allergen_state(allergen, declared, is_complete=not self.not_declared)


def allergen_state(allergen: str, declared: Collection[str], *, is_complete: bool) -> AllergenState:
    """What can be said of an allergen where some are declared, by all that is below (`is_complete`) or by a part.

    Example: flour that declares wheat alone leaves cereals containing gluten `related_declared`, not `none_declared`.
    """
    if allergen in declared:
        return AllergenState.CONTAINS
    if RELATED.get(allergen) in declared:
        return AllergenState.RELATED_DECLARED
    return AllergenState.NONE_DECLARED if is_complete else AllergenState.UNKNOWN


def dish_allergens(dish: Key, uses: Uses, ingredients: Mapping[str, Ingredient]) -> DishAllergens:
    """All allergens of a dish, with the ways that bring them in."""
    brought_in: dict[str, list[Way]] = {allergen: [] for allergen in ALLERGENS}
    not_declared: list[Way] = []
    above = _reached(dish, uses)
    for key in above:
        declared = _declared(key, uses, ingredients)
        if declared is None:
            not_declared.append(_way(key, above))
        for allergen in declared or ():
            brought_in[allergen].append(_way(key, above))
    return DishAllergens({allergen: _in_order(ways) for allergen, ways in brought_in.items()}, _in_order(not_declared))


def _reached(start: Key, uses: Uses) -> dict[Key, Key | None]:
    """All that is reached from the start, the nearest first, each with what stands above it on a shortest way."""
    above: dict[Key, Key | None] = {start: None}
    waiting = deque([start])
    while waiting:
        user = waiting.popleft()
        for used in uses.get(user, ()):
            if used not in above:
                above[used] = user
                waiting.append(used)
    return above


def _declared(key: Key, uses: Uses, ingredients: Mapping[str, Ingredient]) -> tuple[str, ...] | None:
    """What a record declares itself: nothing where it only uses others; None where nobody can say."""
    kind, code = key
    if kind != "ingredient":
        return () if key in uses else None
    return ingredients[code].allergens if code in ingredients else None


def _way(key: Key, above: Mapping[Key, Key | None]) -> Way:
    way = [key]
    while (user := above[way[-1]]) is not None:
        way.append(user)
    return tuple(reversed(way))


def _in_order(ways: Iterable[Way]) -> tuple[Way, ...]:
    return tuple(sorted(ways, key=lambda way: (len(way), way[-1])))
