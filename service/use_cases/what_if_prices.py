"""The prices that a what-if supposes: held to what could be recorded, each fault at the field that is wrong."""

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal

from service.domain.errors import Fault, LimitPassed, UnknownReference, WrongValue
from service.domain.history import record_on
from service.domain.kitchen import Kitchen
from service.domain.price_in_force import offers
from service.domain.scenario import NewPrice, PriceMove, moved_amount
from service.use_cases.keep_record import stands
from service.use_cases.record_price import PriceAsked, price_faults
from service.use_cases.what_if_asked import OtherPrice, PricesMove

MOST_MONEY = Decimal(10) ** 12
"""What a price is recorded with has at most 12 digits before its point."""


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
    kinds = {record.kind for history in kitchen.ingredients.values()
             if (record := record_on(history, day)) is not None}
    faults = [
        *(_no_ingredient(code, day, f"{pointer}/ingredients/{place}") for place, code in enumerate(move.ingredients)
          if not stands(kitchen.ingredients.get(code, ()), day)),
        *(UnknownReference(f"There is no supplier {code!r}; correct the code.", f"{pointer}/suppliers/{place}")
          for place, code in enumerate(move.suppliers) if code not in kitchen.suppliers),
        *(WrongValue(f"No ingredient is of the kind {kind!r} on {day}: there are "
                     f"{', '.join(map(repr, sorted(kinds))) or 'none'}.", f"{pointer}/kinds/{place}")
          for place, kind in enumerate(move.kinds) if kind not in kinds)]
    yield from faults
    if faults:
        return
    moved = [moved_amount(price, move.percent) for price in _amounts(move, kitchen, day)]
    if not moved:
        yield WrongValue(f"No price in force on {day} is meant by this: name ingredients, suppliers or kinds that have "
                         "one, or record a price first.", pointer)
    elif max(moved) >= MOST_MONEY:
        yield LimitPassed("A price would pass what can be recorded, 12 digits before the point: give a smaller "
                          "percentage.", f"{pointer}/percent", limit="price_digits", at_most=12)


def _amounts(move: PricesMove, kitchen: Kitchen, day: date) -> Iterator[Decimal]:
    """The amounts of the prices that the filters leave."""
    ingredients: Mapping[str, object] = dict.fromkeys(move.ingredients) or kitchen.prices
    for code in ingredients:
        ingredient = record_on(kitchen.ingredients.get(code, ()), day)
        if ingredient is not None and (not move.kinds or ingredient.kind in move.kinds):
            for supplier, price in offers(kitchen.prices.get(code, ()), day).items():
                if not move.suppliers or supplier in move.suppliers:
                    yield price.amount


def _no_ingredient(code: str, day: date, pointer: str) -> Fault:
    return UnknownReference(f"There is no ingredient {code!r} on {day}; correct the code, or record it first.", pointer)
