"""Read the purchase price variance of what was bought: each purchase against the price in force on a chosen day.

Nothing is stored. A purchase says what was paid for all of it, or the day whose price in force it was bought at. A
price that is not in force is a gap of its line, never nil, and the totals say that they are incomplete.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from service.domain.as_purchased import missing_conversion
from service.domain.compile import price_or_gap
from service.domain.compile_lines import not_there
from service.domain.errors import Fault, MissingConversion, Refused, UnknownReference, UnknownUnit, WrongValue
from service.domain.findings import Gap
from service.domain.history import recorded_last
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.price import Price
from service.domain.price_in_force import offers, unit_price
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.purchase_price_variance import PurchaseVariance, purchase_variance, total_of
from service.domain.quantity import convert
from service.use_cases.cost_rows import gap_documents
from service.use_cases.documents import Document, plain


@dataclass(frozen=True, slots=True)
class Purchase:
    """What was bought.

    Units:   `paid` is money for all of it; None: at the price in force on `on`, of `supplier` or else of the one that
             decides.
    """

    ingredient: str
    quantity: Decimal
    unit: str
    paid: Decimal | None = None
    on: date | None = None
    supplier: str | None = None


class Found(NamedTuple):
    """A price per base unit, and which record it is of; or the gap that says why there is none."""

    unit_price: Fraction | None
    price: Price | None = None
    gap: Gap | None = None


def read_purchase_price_variance(kitchen: Kitchen, standard_on: date, purchases: Sequence[Purchase]) -> Document:
    """Each purchase, and all together.

    Raises:  Refused with every purchase that cannot be right in itself.
    """
    faults = [fault for place, each in enumerate(purchases) for fault in _faults(kitchen, each, f"#/purchases/{place}")]
    if faults:
        raise Refused(faults)
    days = {standard_on, *(each.on for each in purchases if each.on is not None)}
    standing = _prices_on(kitchen, {each.ingredient for each in purchases}, days)
    lines, variances = [], []
    for each in purchases:
        ingredient = recorded_last(kitchen.ingredients[each.ingredient]).record
        quantity = _base_quantity(each, ingredient)
        standard = _price(standing[standard_on], each.ingredient, None)
        actual = _actual(each, quantity, standing)
        paid = None if actual.unit_price is None else actual.unit_price * quantity
        variance = purchase_variance(quantity, standard.unit_price, paid)
        variances.append(variance)
        lines.append(_line(each, ingredient, quantity, standard, actual) | _figures(variance))
    known = [each for each in variances if each.variance is not None]
    return {
        "standard_on": standard_on.isoformat(), "revision": kitchen.revision,
        "currency": kitchen.settings_on(standard_on).currency, "purchases": lines,
        "total": _figures(total_of(variances)) | {
            "status": "complete" if len(known) == len(variances) else "incomplete",
            "purchases": len(variances), "without_variance": len(variances) - len(known),
            "known_variance": cost_in_words(total_of(known).variance)}}


def _faults(kitchen: Kitchen, purchase: Purchase, pointer: str) -> Iterator[Fault]:
    history = kitchen.ingredients.get(purchase.ingredient)
    if history is None:
        yield UnknownReference(f"There is no ingredient {purchase.ingredient!r}; record it first, or correct the code.",
                               f"{pointer}/ingredient")
    else:
        try:
            _base_quantity(purchase, recorded_last(history).record)
        except (UnknownUnit, MissingConversion) as fault:
            yield fault.at(f"{pointer}/unit")
    if purchase.supplier is not None and purchase.supplier not in kitchen.suppliers:
        yield UnknownReference(f"There is no supplier {purchase.supplier!r}; correct the code.", f"{pointer}/supplier")
    if purchase.paid is None and purchase.on is None:
        yield WrongValue("Give what was paid for all of it, or the day whose price in force it was bought at.",
                         f"{pointer}/paid")


def _base_quantity(purchase: Purchase, ingredient: Ingredient) -> Fraction:
    return convert(Fraction(purchase.quantity), purchase.unit, ingredient.base_unit, ingredient.conversions)


def _prices_on(kitchen: Kitchen, ingredients: set[str], days: set[date]) -> Mapping[date, KitchenOnDay]:
    """The kitchen of each day, as far as prices go."""
    asked = replace(
        kitchen, ingredients={code: kitchen.ingredients[code] for code in ingredients},
        prices={code: kitchen.prices.get(code, ()) for code in ingredients}, recipes={}, dishes={})
    return {day: asked.on(day) for day in days}


def _price(kitchen: KitchenOnDay, code: str, supplier: str | None) -> Found:
    """The price in force of a supplier, or the one that decides."""
    ingredient = kitchen.ingredients.get(code)
    if ingredient is None:
        return Found(None, None, not_there(("ingredient", code)))
    price = price_or_gap(kitchen, ingredient) if supplier is None else offers(
        kitchen.prices.get(code, ()), kitchen.day).get(supplier) or _none_of(supplier, code, kitchen.day)
    if isinstance(price, Gap):
        return Found(None, None, price)
    try:
        return Found(unit_price(price, ingredient), price)
    except MissingConversion:
        return Found(None, price, missing_conversion(("ingredient", code), price.pack_unit, ingredient.base_unit))


def _none_of(supplier: str, code: str, day: date) -> Gap:
    return Gap("no_price", "ingredient", code,
               f"{code} has no price in force on {day} from {supplier}: record one, or say what was paid.",
               {"supplier": supplier})


def _actual(purchase: Purchase, quantity: Fraction, standing: Mapping[date, KitchenOnDay]) -> Found:
    if purchase.paid is not None:
        return Found(Fraction(purchase.paid) / quantity)
    if purchase.on is None:
        raise LookupError("a purchase without a price or a day was refused before")
    return _price(standing[purchase.on], purchase.ingredient, purchase.supplier)


def _line(purchase: Purchase, ingredient: Ingredient, quantity: Fraction, standard: Found, actual: Found) -> Document:
    gaps = dict.fromkeys(gap for gap in (standard.gap, actual.gap) if gap is not None)
    return {
        "ingredient": purchase.ingredient, "name": ingredient.name, "quantity": plain(purchase.quantity),
        "unit": purchase.unit, "base_quantity": cost_in_words(quantity), "base_unit": ingredient.base_unit,
        "on": purchase.on and purchase.on.isoformat(),
        "supplier": purchase.supplier if actual.price is None else actual.price.supplier,
        "standard_unit_price": cost_in_words(standard.unit_price),
        "standard_price": None if standard.price is None else standard.price.id,
        "actual_unit_price": cost_in_words(actual.unit_price),
        "actual_price": None if actual.price is None else actual.price.id,
        "gaps": gap_documents(gaps)}


def _figures(variance: PurchaseVariance) -> Document:
    return {
        "standard_cost": cost_in_words(variance.standard_cost), "actual_cost": cost_in_words(variance.actual_cost),
        "variance": cost_in_words(variance.variance), "variance_percent": percent_in_words(variance.variance_percent),
        "effect": variance.effect and variance.effect.value}
