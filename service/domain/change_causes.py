"""Why a dish's figures moved from one place on the timeline to the next: what was recorded or started there, as far as
it stands below the dish.

Rules that always hold: a cause stands below the dish before or after (or holds for every dish, as the settings do); a
dish that moved has at least one cause.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import NamedTuple

from service.domain.history import Mark
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.uses import reached_from, uses_of

OF_FIGURES = ("settings", "supplier", "ingredient", "price", "breakdown", "yield_test", "recipe", "dish")
"""The kinds of entry that can move a figure."""
SETTINGS = ("settings", "settings")
_IS_OF = {"price": "ingredient", "yield_test": "breakdown"}


class Cause(NamedTuple):
    """One thing that can have moved figures: `kind` and `code` as in the ledger's entries, and which entry it is.

    Shape:   `action` is that of the entry, or "starts" or "ends" where a day brought it into force or out of it.
    """

    kind: str
    code: str
    action: str
    made: Mark


def causes_by_dish(dishes: Iterable[str], causes: Sequence[Cause], before: KitchenOnDay, after: KitchenOnDay
                   ) -> Iterator[tuple[Cause, ...]]:
    """The causes of each dish, in the order of the dishes."""
    if len(causes) <= 1:
        yield from (tuple(causes) for _ in dishes)
        return
    uses = (uses_of(before), uses_of(after))
    about = [(cause, _about(cause, before, after)) for cause in causes]
    for dish in dishes:
        below = {SETTINGS, *(key for each in uses for key in reached_from(each, [("dish", dish)]))}
        yield tuple(cause for cause, keys in about if not below.isdisjoint(keys)) or tuple(causes)


def ingredients_of(cause: Cause, before: KitchenOnDay, after: KitchenOnDay) -> Iterator[str]:
    """The ingredients whose deciding price a cause can move."""
    return (code for kind, code in _about(cause, before, after) if kind == "ingredient")


def _about(cause: Cause, *kitchens: KitchenOnDay) -> Collection[Key]:
    """The records whose figures a cause can move: of a supplier the ingredients that it has prices for.

    A supplier who is retired on a day has no prices in that day's kitchen, hence both kitchens.
    """
    if cause.kind != "supplier":
        return (SETTINGS if cause.kind == "settings" else (_IS_OF.get(cause.kind, cause.kind), cause.code),)
    return {("ingredient", code) for kitchen in kitchens for code, prices in kitchen.prices.items()
            if any(price.supplier == cause.code for price in prices)}
