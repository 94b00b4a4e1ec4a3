"""The prices that a what-if supposes: held to what could be recorded, each fault at the field that is wrong.

Rules that always hold: changes are taken in their order, each upon those before it; what could not be recorded is
refused, and so is more work than an answer is worth.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal

from service.domain.errors import Fault, LimitPassed, UnknownReference, WrongValue
from service.domain.history import Mark, record_on
from service.domain.kitchen import Kitchen
from service.domain.scenario import NewPrice, PriceMove, prices_under, with_price
from service.use_cases.keep_record import stands
from service.use_cases.record_price import PriceAsked, price_faults
from service.use_cases.what_if_asked import OtherPrice, PricesMove, Supposition

MOST_MONEY = Decimal(10) ** 12
"""What a price is recorded with has at most 12 digits before its point."""
MOST_LOOKED_AT = 100_000
"""So many ingredients, or dishes, all percentages of a what-if together may look at."""


class SupposedPrices:
    """The prices of a kitchen as a supposition would have them, and what is wrong with it."""

    def __init__(self, kitchen: Kitchen, day: date) -> None:
        self._prices = dict(kitchen.prices)
        self._kitchen = replace(kitchen, prices=self._prices)
        self._day = day
        self._marks = (Mark(kitchen.revision + 1, entry) for entry in range(1, 10**9))
        self.faults: list[Fault] = []
        self.changes: list[NewPrice | PriceMove] = []

    def take(self, asked: Supposition) -> None:
        """Take in all changes of prices."""
        looked_at = sum(len(each.ingredients) or len(self._prices) for each in asked.prices
                        if isinstance(each, PricesMove))
        if looked_at > MOST_LOOKED_AT:
            self.faults.append(too_many_looked_at("ingredients", "#/prices"))
            return
        for place, each in enumerate(asked.prices):
            pointer = f"#/prices/{place}"
            if isinstance(each, OtherPrice):
                faults = list(faults_of_price(each, self._kitchen, self._day, pointer))
            else:
                faults = list(faults_of_move(each, self._kitchen, self._day, pointer))
            if faults:
                self.faults += faults
            else:
                self._add(new_price(each, self._day) if isinstance(each, OtherPrice) else price_move(each, self._day))

    def _add(self, change: NewPrice | PriceMove) -> None:
        self.changes.append(change)
        for price in prices_under(self._kitchen, change):
            self._prices[price.ingredient] = with_price(self._prices.get(price.ingredient, ()),
                                                        replace(price, made=next(self._marks)))


def too_many_looked_at(what: str, pointer: str) -> Fault:
    """More percentages of more things than an answer is worth."""
    return LimitPassed(f"All percentages together look at more than {MOST_LOOKED_AT} {what}: give fewer, or name what "
                       "each is for.", pointer, limit="what_if_percentages", at_most=MOST_LOOKED_AT)


def price_move(move: PricesMove, day: date) -> PriceMove:
    """The move as a scenario has it."""
    return PriceMove(move.percent, day, frozenset(move.ingredients), frozenset(move.suppliers), frozenset(move.kinds))


def new_price(asked: OtherPrice, day: date) -> NewPrice:
    """The price as a scenario has it: open from the day on, as recording it without a last day would be."""
    return NewPrice(asked.ingredient, asked.supplier, asked.amount, asked.pack_quantity, asked.pack_unit, day)


def faults_of_price(asked: OtherPrice, kitchen: Kitchen, day: date, pointer: str) -> Iterator[Fault]:
    """Why the price could not be recorded."""
    if not stands(kitchen.ingredients.get(asked.ingredient, ()), day):
        yield _no_ingredient(asked.ingredient, day, f"{pointer}/ingredient")
        return
    priced = PriceAsked(asked.supplier, asked.amount, asked.pack_quantity, asked.pack_unit)
    for fault in price_faults(priced, day, asked.ingredient, kitchen):
        yield fault.at(f"{pointer}{(fault.pointer or '#').removeprefix('#')}")


def faults_of_move(move: PricesMove, kitchen: Kitchen, day: date, pointer: str) -> Iterator[Fault]:
    """What the filters name that is not there; a move that means no price, or takes one out of what can be recorded."""
    faults = [
        *(_no_ingredient(code, day, f"{pointer}/ingredients/{place}") for place, code in enumerate(move.ingredients)
          if not stands(kitchen.ingredients.get(code, ()), day)),
        *(UnknownReference(f"There is no supplier {code!r} on {day}; correct the code.", f"{pointer}/suppliers/{place}")
          for place, code in enumerate(move.suppliers) if not stands(kitchen.suppliers.get(code, ()), day)),
        *_faults_of_kinds(move, kitchen, day, pointer)]
    yield from faults
    if faults:
        return
    moved = [price.amount for price in prices_under(kitchen, price_move(move, day))]
    if not moved:
        yield WrongValue(f"No price in force on {day} is meant by this: name ingredients, suppliers or kinds that have "
                         "one, or record a price first.", pointer)
    elif max(moved) >= MOST_MONEY:
        yield LimitPassed("A price would pass what can be recorded, 12 digits before the point: give a smaller "
                          "percentage.", f"{pointer}/percent", limit="price_digits", at_most=12)


def _faults_of_kinds(move: PricesMove, kitchen: Kitchen, day: date, pointer: str) -> Iterator[Fault]:
    if not move.kinds:
        return
    kinds = {record.kind for history in kitchen.ingredients.values()
             if (record := record_on(history, day)) is not None}
    for place, kind in enumerate(move.kinds):
        if kind not in kinds:
            yield WrongValue(f"No ingredient is of the kind {kind!r} on {day}: there are "
                             f"{', '.join(map(repr, sorted(kinds))) or 'none'}.", f"{pointer}/kinds/{place}")


def _no_ingredient(code: str, day: date, pointer: str) -> Fault:
    return UnknownReference(f"There is no ingredient {code!r} on {day}; correct the code, or record it first.", pointer)
