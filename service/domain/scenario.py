"""A scenario: the kitchen as it would be under changes that nobody has recorded. Nothing is stored.

A scenario is a kitchen like any other: the changes are added as the versions and prices that recording them would
add, under the marks that the next revision would have. So its figures come out of the same functions, and equal those
of the real change to the last digit; a scenario upon a scenario is recorded after it, and outranks it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.domain.breakdown import Breakdown
from service.domain.history import Mark, Version, record_on
from service.domain.kitchen import PLURALS, Kitchen
from service.domain.price import Price
from service.domain.price_in_force import offers
from service.domain.rounding import published
from service.domain.take_over import taken_over_by
from service.domain.very_same import Copied

RECORDED_PLACES = 6


@dataclass(frozen=True, slots=True)
class NewPrice:
    """A price as it might be recorded, from `day` on (or to `last_day`)."""

    ingredient: str
    supplier: str
    amount: Decimal
    pack_quantity: Decimal
    pack_unit: str
    day: date
    last_day: date | None = None


@dataclass(frozen=True, slots=True)
class PriceMove:
    """Prices in force on `day` that would move by a percentage from that day on: all, or those that the filters name.

    Shape:   an empty filter holds for everything; several hold together.
    """

    percent: Decimal
    day: date
    ingredients: frozenset[str] = frozenset()
    suppliers: frozenset[str] = frozenset()
    kinds: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class NewVersion:
    """A record as it might be kept, from `day` on: a breakdown with other yields, a dish at another price."""

    kind: str
    code: str
    record: Any
    day: date


Supposed = NewPrice | PriceMove | NewVersion


def kitchen_under(kitchen: Kitchen, changes: Sequence[Supposed]) -> Kitchen:
    """The kitchen as it would be once the changes were recorded in one revision, in their order.

    Exact:   a moved price is its amount times (1 + percent / 100), rounded to the 6 decimals that a price is recorded
             with: so that recording it gives the same figures.
    """
    before, revision = kitchen, kitchen.revision + 1
    marks = (Mark(revision, entry) for entry in range(1, 10**9))
    prices = Copied(kitchen.prices)  # one copy for all: a price list has thousands
    kitchen = replace(kitchen, revision=revision, prices=prices)
    copied: dict[str, dict[str, Any]] = {}
    for change in changes:
        if isinstance(change, NewVersion):
            for code, record in _records(kitchen, change):
                kitchen = _with_version(kitchen, copied, change, code, Version(record, next(marks), change.day))
        else:
            for price in prices_under(kitchen, change):
                prices[price.ingredient] = with_price(prices.get(price.ingredient, ()),
                                                      replace(price, made=next(marks)))
    return kitchen if next(marks).entry > 1 else before


def with_price(offered: Sequence[Price], price: Price) -> tuple[Price, ...]:
    """The prices of an ingredient once one is recorded: where one of the same supplier and period stands, the later
    holds on every day, so that moves upon moves do not pile up."""
    period = (price.supplier, price.effective_from, price.effective_to)
    return (*(other for other in offered if (other.supplier, other.effective_from, other.effective_to) != period),
            price)


def _with_version(kitchen: Kitchen, copied: dict[str, dict[str, Any]], change: NewVersion, code: str,
                  version: Version[Any]) -> Kitchen:
    """As `Kitchen.with_version`, with one copy of a kind's histories for all changes of that kind: a rise of all menu
    prices changes every dish."""
    plural = PLURALS.get(change.kind)
    if plural is None:
        return kitchen.with_version(change.kind, code, version)
    if plural not in copied:
        copied[plural] = Copied(getattr(kitchen, plural))
        of_kind: dict[str, Any] = {plural: copied[plural]}
        kitchen = replace(kitchen, **of_kind)
    histories = copied[plural]
    histories[code] = (*histories.get(code, ()), version)
    return kitchen


def _records(kitchen: Kitchen, change: NewVersion) -> Iterable[tuple[str, Any]]:
    """The record itself, and the breakdowns that one put in use takes over from."""
    taken_over = taken_over_by(change.record, kitchen, change.day) if isinstance(change.record, Breakdown) else ()
    return [(change.code, change.record), *((other.code, other) for other in taken_over)]


def prices_under(kitchen: Kitchen, change: NewPrice | PriceMove) -> Sequence[Price]:
    """The prices that a change of prices would record, not yet marked, by ingredient and supplier."""
    unmarked = Mark(0, 0)
    if isinstance(change, NewPrice):
        return [Price(change.ingredient, change.supplier, change.amount, change.pack_quantity, change.pack_unit,
                      change.day, change.last_day, "", unmarked)]
    return [replace(price, amount=moved_amount(price.amount, change.percent), effective_from=change.day, made=unmarked)
            for code in sorted(kitchen.prices.keys() & change.ingredients if change.ingredients else kitchen.prices)
            if _meant(kitchen, code, change)
            for supplier, price in sorted(offers(kitchen.prices[code], change.day).items())
            if not change.suppliers or supplier in change.suppliers]


def _meant(kitchen: Kitchen, code: str, move: PriceMove) -> bool:
    ingredient = record_on(kitchen.ingredients.get(code, ()), move.day)
    return (ingredient is not None and (not move.ingredients or code in move.ingredients)
            and (not move.kinds or ingredient.kind in move.kinds))


def moved_amount(amount: Decimal, percent: Decimal) -> Decimal:
    """An amount moved by a percentage, as it can be recorded: to 6 decimals, half away from zero."""
    return published(Fraction(amount) * (1 + Fraction(percent) / 100), RECORDED_PLACES)
