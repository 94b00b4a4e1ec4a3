"""Allergens: what a dish, recipe or cut holds, from what its ingredients declare.

The union of all that is declared below it, and the ingredients that have declared nothing: not declared is not none.
It follows the records, not the costs, so that an ingredient that costs nothing still counts. A cut holds what the
ingredient at the start of its chain declares.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.domain.ingredient import Ingredient
from service.domain.network import Key
from service.domain.uses import Uses, depth_first


@dataclass(frozen=True, slots=True)
class Allergens:
    """Both in alphabetical order.

    `not_declared` holds codes: of ingredients that declare nothing, and of whatever is named and does not stand that
    day, since nobody can say what is in it.
    """

    declared: tuple[str, ...]
    not_declared: tuple[str, ...]


NONE = Allergens((), ())


def allergens_of_all(uses: Uses, ingredients: Mapping[str, Ingredient]) -> Mapping[Key, Allergens]:
    """The allergens of every record, over all that it uses: from the ingredients up, each record once.

    Shape:   a key for everything that stands in `uses` or is named there. Records that contain each other hold the
             same.
    """
    found: dict[Key, Allergens] = {}
    order = depth_first(uses, sorted(uses))
    while not _gathered(order, uses, ingredients, found):
        pass
    return found


def _gathered(order: Sequence[Key], uses: Uses, ingredients: Mapping[str, Ingredient], found: dict[Key, Allergens]
              ) -> bool:
    """Gather once; whether that was all. Round a loop something is used before it is known, and it goes round again
    until nothing more comes to light."""
    settled = True
    for key in order:
        used = uses.get(key, ())
        below = [found[one] for one in used if one in found]
        together = _together(_own(key, uses, ingredients), *below)
        settled = settled and len(below) == len(used) and found.get(key, together) == together
        found[key] = together
    return settled


def _own(key: Key, uses: Uses, ingredients: Mapping[str, Ingredient]) -> Allergens:
    """What a record says itself, apart from what it uses."""
    kind, code = key
    if kind != "ingredient":
        return NONE if key in uses else Allergens((), (code,))
    ingredient = ingredients.get(code)
    if ingredient is None or ingredient.allergens is None:
        return Allergens((), (code,))
    return Allergens(tuple(sorted(ingredient.allergens)), ())


def _together(*parts: Allergens) -> Allergens:
    said = [part for part in parts if part is not NONE]
    return Allergens(tuple(sorted({word for part in said for word in part.declared})),
                     tuple(sorted({code for part in said for code in part.not_declared})))
