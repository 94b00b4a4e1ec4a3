"""Allergens: what a dish, recipe or cut holds, from what its ingredients declare.

The union of all that is declared below it, and the ingredients that have declared nothing: not declared is not none.
It follows the records, not the costs, so that an ingredient that costs nothing still counts. A cut holds what the
ingredient at the start of its chain declares.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from service.domain.ingredient import Ingredient
from service.domain.network import Key
from service.domain.uses import Uses, reached_from


@dataclass(frozen=True, slots=True)
class Allergens:
    """Both in alphabetical order.

    `not_declared` holds codes: of ingredients that declare nothing, and of whatever is named and does not stand that
    day, since nobody can say what is in it.
    """

    declared: tuple[str, ...]
    not_declared: tuple[str, ...]


def allergens_of(key: Key, uses: Uses, ingredients: Mapping[str, Ingredient]) -> Allergens:
    """The allergens of one record, over all that it uses."""
    declared: set[str] = set()
    not_declared = []
    for kind, code in reached_from(uses, (key,)):
        if kind == "ingredient":
            ingredient = ingredients.get(code)
            if ingredient is None or ingredient.allergens is None:
                not_declared.append(code)
            else:
                declared.update(ingredient.allergens)
        elif (kind, code) not in uses:
            not_declared.append(code)
    return Allergens(tuple(sorted(declared)), tuple(sorted(not_declared)))
