"""Price turns: the days on which another price decides what an ingredient costs, and what made it so.

A price turns because one came into force or ended, because another supplier is preferred, because a supplier was
retired or is back, or because the ingredient itself came or went. Of several at once on one day the one recorded last
is the cause: before it the turn was not complete. A withdrawn price was never in force, as known now, and turns
nothing.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from operator import attrgetter
from typing import Any, NamedTuple

from service.domain.compile import price_or_gap
from service.domain.errors import MissingConversion
from service.domain.history import Histories, Mark, version_in_force
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.price import Price
from service.domain.price_in_force import holds_on, offers, unit_price


class TurnKind(StrEnum):
    """What made another price decide."""

    PRICE_STARTED = "price_started"
    PRICE_ENDED = "price_ended"
    PREFERRED_SUPPLIER = "preferred_supplier"
    SUPPLIER_RETIRED = "supplier_retired"
    SUPPLIER_BACK = "supplier_back"
    INGREDIENT_STARTED = "ingredient_started"
    INGREDIENT_RETIRED = "ingredient_retired"


class Cause(NamedTuple):
    """One thing that turned a price: by what it was recorded, and the price that started or ended, if one did."""

    made: Mark
    kind: TurnKind
    price: Price | None = None


@dataclass(frozen=True, slots=True)
class PriceTurn:
    """From `day` on another price decides.

    Shape:   `before` and `after` are the deciding prices, None where none does.
    Units:   unit prices are money per base unit of the ingredient; None is not known.
    """

    ingredient: str
    day: date
    cause: Cause
    before: Price | None
    after: Price | None
    unit_price_before: Fraction | None
    unit_price_after: Fraction | None

    @property
    def change(self) -> Fraction | None:
        """By how much the unit price moves; None while it is not known at either side."""
        if self.unit_price_before is None or self.unit_price_after is None:
            return None
        return self.unit_price_after - self.unit_price_before


class Decided(NamedTuple):
    """The price that decides, and what a base unit costs by it."""

    price: Price | None
    unit_price: Fraction | None


NOT_DECIDED = Decided(None, None)


def turns_between(kitchen: Kitchen, before: KitchenOnDay, after: KitchenOnDay, ingredients: Iterable[str]
                  ) -> list[PriceTurn]:
    """Which of the ingredients turn on the day of `after`, in the order of the revisions that made them turn.

    `before` is the same kitchen on an earlier day with no day of change between the two.
    """
    turns = []
    for code in ingredients:
        old, new = decided(before, code), decided(after, code)
        if old.price != new.price:
            cause = max(_causes(kitchen, before, after, code), key=attrgetter("made"))
            turns.append(PriceTurn(code, after.day, cause, old.price, new.price, old.unit_price, new.unit_price))
    return sorted(turns, key=attrgetter("cause.made", "ingredient"))


def decided(kitchen: KitchenOnDay, code: str) -> Decided:
    """What decides an ingredient's cost that day."""
    ingredient = kitchen.ingredients.get(code)
    price = None if ingredient is None else price_or_gap(kitchen, ingredient)
    if ingredient is None or not isinstance(price, Price):
        return NOT_DECIDED
    try:
        return Decided(price, unit_price(price, ingredient))
    except MissingConversion:
        return Decided(price, None)


def _causes(kitchen: Kitchen, before: KitchenOnDay, after: KitchenOnDay, code: str) -> Iterator[Cause]:
    was, now = before.ingredients.get(code), after.ingredients.get(code)
    if was is None or now is None:
        kind = TurnKind.INGREDIENT_RETIRED if now is None else TurnKind.INGREDIENT_STARTED
        yield Cause(_made(kitchen.ingredients, code, after.day), kind)
        return
    if was.preferred_supplier != now.preferred_supplier:
        yield Cause(_made(kitchen.ingredients, code, after.day), TurnKind.PREFERRED_SUPPLIER)
    earlier, later = (offers(each.prices.get(code, ()), each.day) for each in (before, after))
    for supplier in _that_count(now, earlier.keys() | later.keys()):
        left, came = earlier.get(supplier), later.get(supplier)
        if left != came:
            yield _cause_of_offer(kitchen, before.day, after, supplier, left, came)


def _that_count(ingredient: Ingredient, suppliers: Iterable[str]) -> Iterable[str]:
    """The preferred supplier alone; with none preferred every offer counts, since two of them decide nothing."""
    return suppliers if ingredient.preferred_supplier is None else (ingredient.preferred_supplier,)


def _cause_of_offer(kitchen: Kitchen, day_before: date, after: KitchenOnDay, supplier: str, left: Price | None,
                    came: Price | None) -> Cause:
    if came is not None and came.effective_from > day_before:
        return Cause(came.made, TurnKind.PRICE_STARTED, came)
    if left is not None and not holds_on(left, after.day):
        return Cause(left.made, TurnKind.PRICE_ENDED, left)
    kind = TurnKind.SUPPLIER_BACK if supplier in after.suppliers else TurnKind.SUPPLIER_RETIRED
    return Cause(_made(kitchen.suppliers, supplier, after.day), kind)


def _made(histories: Histories[Any], code: str, day: date) -> Mark:
    """What recorded the version in force on a day."""
    version = version_in_force(histories[code], day)
    if version is None:
        raise LookupError(f"nothing of {code!r} is in force on {day}")
    return version.made
