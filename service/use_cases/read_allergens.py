"""Read the allergens of a dish, with the ways that bring them in; and those of the menu, dish by dish.

Rules that always hold: the two say the same of a dish, and so does its row of costs; what is cut short says how much
more there is.
"""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from service.domain.allergen_cautions import ALLERGEN_CAUTIONS
from service.domain.allergen_lists import ALLERGENS, LISTS, NAMES, RELATED, lists_of
from service.domain.allergen_paths import AllergenState, DishAllergens, Way, allergen_state, dish_allergens
from service.domain.allergens import Allergens, allergens_of_all
from service.domain.dish import Dish
from service.domain.errors import NotFound
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.uses import Uses, uses_of
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

MOST_WAYS = 25
"""How many ways are told of one allergen, and of what declares nothing."""


def rolled_up(snapshot: Snapshot) -> Mapping[Key, Allergens]:
    """The allergens of every record, gathered once a snapshot."""
    return snapshot.kept("allergens", lambda: allergens_of_all(_uses(snapshot), snapshot.kitchen.ingredients))


def read_dish_allergens(snapshot: Snapshot, code: str, allergens: Collection[str] = ()) -> Document:
    """What a dish contains and by which way, what cannot be said, and the cautions; of the allergens named, or all.

    Raises:  NotFound when no such dish stands on the snapshot's day.
    """
    dish = snapshot.kitchen.dishes.get(code)
    if dish is None:
        raise NotFound(f"There is no dish {code!r} on {snapshot.position.day}.")
    found = dish_allergens(("dish", code), _uses(snapshot), snapshot.kitchen.ingredients)
    names = snapshot.kept("names of allergens' ways", lambda: _names(snapshot.kitchen))
    return {
        "as_of": snapshot.position.day.isoformat(), "revision": snapshot.position.revision, **_dish(dish),
        "allergens_complete": not found.not_declared,
        "allergens": [_allergen(allergen, found, names) for allergen in _told(allergens)],
        "not_declared": [_end(way, names) | {"reason": _reason(way, snapshot.kitchen), "path": _steps(way, names)}
                         for way in found.not_declared[:MOST_WAYS]],
        "more_not_declared": len(found.not_declared[MOST_WAYS:])} | lists_and_cautions()


def menu_allergens(snapshot: Snapshot, allergens: Collection[str] = (), section: str | None = None,
                   states: Collection[AllergenState] = ()) -> Sequence[Document]:
    """What can be said of each dish, in the order of the codes: of the allergens named, or all.

    Shape:   dishes of the section named, or all; of the states named only those with an allergen told in one of them.
    """
    told, found = _told(allergens), rolled_up(snapshot)
    rows = [_dish(dish) | _states(found["dish", code], told)
            for code, dish in sorted(snapshot.kitchen.dishes.items()) if section in (None, dish.section)]
    return [row for row in rows if any(row[state] for state in states)] if states else rows


def lists_and_cautions() -> Document:
    """Which lists the allergens are on, and what to mind."""
    return {
        "lists": [{"list": one.code, "name": one.name, "source": one.source, "allergens": list(one.allergens)}
                  for one in LISTS],
        "cautions": [{"code": one.code, "text": one.text, "source": one.source} for one in ALLERGEN_CAUTIONS]}


def _uses(snapshot: Snapshot) -> Uses:
    return snapshot.kept("uses", lambda: uses_of(snapshot.kitchen))


def _told(allergens: Collection[str]) -> Sequence[str]:
    return [allergen for allergen in ALLERGENS if not allergens or allergen in allergens]


def _dish(dish: Dish) -> Document:
    return {"dish": dish.code, "name": dish.name, "section": dish.section, "pos_code": dish.pos_code}


def _states(found: Allergens, told: Sequence[str]) -> Document:
    by_state: dict[str, Any] = {state.value: [] for state in AllergenState}
    for allergen in told:
        by_state[allergen_state(allergen, found.declared, is_complete=not found.not_declared)].append(allergen)
    return by_state | {"allergens_complete": not found.not_declared,
                       "allergens_not_declared": list(found.not_declared)}


def _allergen(allergen: str, found: DishAllergens, names: Mapping[Key, str]) -> Document:
    ways = found.brought_in[allergen]
    return {
        "allergen": allergen, "name": NAMES[allergen], "lists": list(lists_of(allergen)),
        "state": found.state(allergen).value, "related": RELATED.get(allergen), "ingredients": len(ways),
        "brought_in_by": [_end(way, names) | {"path": _steps(way, names)} for way in ways[:MOST_WAYS]],
        "more": len(ways[MOST_WAYS:])}


def _end(way: Way, names: Mapping[Key, str]) -> Document:
    return _step(way[-1], names)


def _steps(way: Way, names: Mapping[Key, str]) -> list[Document]:
    return [_step(key, names) for key in way]


def _step(key: Key, names: Mapping[Key, str]) -> Document:
    kind, code = key
    return {"kind": kind, "code": code, "name": names.get(key, code)}


def _reason(way: Way, kitchen: KitchenOnDay) -> str:
    kind, code = way[-1]
    return "declares_nothing" if kind == "ingredient" and code in kitchen.ingredients else "not_in_force"


def _names(kitchen: KitchenOnDay) -> Mapping[Key, str]:
    """What a kitchen calls whatever can stand on a way."""
    records = (("ingredient", kitchen.ingredients), ("breakdown", kitchen.breakdowns), ("recipe", kitchen.recipes),
               ("dish", kitchen.dishes))
    names = {(kind, code): record.name for kind, standing in records for code, record in standing.items()}
    return names | {("cut", output.cut): output.name for breakdown in kitchen.breakdowns.values() if breakdown.in_use
                    for output in breakdown.cuts}
