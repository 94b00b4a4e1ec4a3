"""Record a supplier's price: finance says what a pack costs, from which day."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from service.domain.errors import CurrencyDiffers, Fault, MissingConversion, NotFound, Refused, UnknownUnit, WrongValue
from service.domain.history import Mark, recorded_last
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price
from service.domain.quantity import convert
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.closed_period import period_fault
from service.use_cases.documents import Document, price_document, price_entry
from service.use_cases.keep_record import stands
from service.use_cases.line_checks import reference_fault
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork


@dataclass(frozen=True, slots=True)
class PriceAsked:
    """A price as it is sent; the start is today unless given, the currency the kitchen's."""

    supplier: str
    amount: Decimal
    pack_quantity: Decimal
    pack_unit: str
    effective_from: date | None = None
    effective_to: date | None = None
    reference: str = ""
    currency: str | None = None


def record_price(ledger: Ledger, ingredient: str, asked: PriceAsked, asker: Asker) -> Receipt:
    """Record the price and answer with it.

    Raises:  NotFound for the ingredient, Refused with every fault, IdempotencyKeyReused.
    """

    def effect(work: WriteWork) -> Document:
        kitchen = work.kitchen()
        if not stands(kitchen.ingredients.get(ingredient, ()), work.today):
            raise NotFound(f"There is no ingredient {ingredient!r}; record it first.")
        start = asked.effective_from or work.today
        faults = _faults(asked, start, ingredient, kitchen)
        if faults:
            raise Refused(faults)
        price = _price(ingredient, asked, start)
        mark = work.next_mark(Entry("record_price", "price", ingredient, price_entry(price)))
        price = replace(price, made=mark)
        work.add_price(price)
        return price_document(price)

    return answered_once(ledger, asker, effect)


def _price(ingredient: str, asked: PriceAsked, start: date) -> Price:
    """The price, before an entry of the ledger has named it."""
    return Price(ingredient, asked.supplier, asked.amount, asked.pack_quantity, asked.pack_unit, start,
                 asked.effective_to, asked.reference, Mark(0, 0))


def _faults(asked: PriceAsked, start: date, ingredient: str, kitchen: Kitchen) -> Sequence[Fault]:
    closed = period_fault(kitchen, start, f"A price that starts on {start}", "#/effective_from")
    return [*price_faults(asked, start, ingredient, kitchen), *([closed] if closed is not None else [])]


def price_faults(asked: PriceAsked, start: date, ingredient: str, kitchen: Kitchen) -> Sequence[Fault]:
    """Why a price of an ingredient that stands cannot be right, whenever it is recorded."""
    faults = list(_wrong_values(asked, start, kitchen.settings_on(start)))
    supplier = reference_fault(kitchen, "supplier", asked.supplier, start)
    if supplier is not None:
        faults.append(supplier.at("#/supplier"))
    record = recorded_last(kitchen.ingredients[ingredient]).record
    try:
        convert(Fraction(1), asked.pack_unit, record.base_unit, record.conversions)
    except (UnknownUnit, MissingConversion) as fault:
        faults.append(fault.at("#/pack_unit"))
    return faults


def _wrong_values(asked: PriceAsked, start: date, settings: KitchenSettings) -> Sequence[Fault]:
    faults: list[Fault] = []
    if asked.amount < 0:
        faults.append(WrongValue("A price is zero or more; a credit is not a price.", "#/amount"))
    if asked.pack_quantity <= 0:
        faults.append(WrongValue("A pack holds more than nothing.", "#/pack_quantity"))
    if asked.effective_to is not None and asked.effective_to < start:
        faults.append(WrongValue(f"The last day is on or after the first, {start}.", "#/effective_to"))
    if asked.currency is not None and asked.currency != settings.currency:
        faults.append(CurrencyDiffers(
            f"The kitchen keeps its books in {settings.currency}; convert the price from {asked.currency} first.",
            "#/currency"))
    return faults
