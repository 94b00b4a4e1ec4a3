"""The price in force: which of all recorded prices holds on a day, and which supplier decides.

For an ingredient, a supplier and a day, among the prices not withdrawn whose period holds the day (first and last day
inclusive; no last day is open): one with a last day (a contract, a promotion) before an open one, then the one that
starts latest, then the one recorded later. The ingredient's preferred supplier decides; with none preferred and one
supplier in force, that one; with several and none preferred, nobody guesses: a gap lists the offers.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction

from service.domain.errors import MissingConversion
from service.domain.findings import Gap
from service.domain.history import Mark
from service.domain.ingredient import Ingredient
from service.domain.price import Price
from service.domain.quantity import convert
from service.domain.rounding import UNIT_COST_PLACES, published, text

ONE = Fraction(1)


def holds_on(price: Price, day: date) -> bool:
    """Whether the price counts on `day`: not withdrawn, and its period holds the day."""
    if price.withdrawn is not None or price.effective_from > day:
        return False
    return price.effective_to is None or price.effective_to >= day


def offers(prices: Iterable[Price], day: date) -> dict[str, Price]:
    """Every supplier's price in force on `day`, by supplier in alphabetical order; `prices` come in any order."""
    best: dict[str, Price] = {}
    for price in prices:
        if holds_on(price, day):
            rival = best.get(price.supplier)
            if rival is None or _precedence(price) > _precedence(rival):
                best[price.supplier] = price
    return dict(sorted(best.items()))


def unit_price(price: Price, ingredient: Ingredient) -> Fraction:
    """Money per base unit of the ingredient: the amount over the pack.

    Raises:  MissingConversion, UnknownUnit.
    Example: 113.60 for a case of 8 kg is 14.20 a kg.
    """
    pack = convert(Fraction(price.pack_quantity), price.pack_unit, ingredient.base_unit, ingredient.conversions)
    return Fraction(price.amount) / pack


def deciding_price(
    ingredient: Ingredient, prices: Iterable[Price], day: date, usable_yield: Fraction | None = None
) -> Price | Gap:
    """The price that the ingredient's costs rest on, or the gap that says why there is none.

    `usable_yield` is the part of a kg that its breakdown in use makes of main and trim (None: not broken down); the
    offers in a gap are compared by what a usable kg costs, not by what a bought unit does.
    """
    on_offer = offers(prices, day)
    preferred = ingredient.preferred_supplier
    if preferred is not None:
        return on_offer.get(preferred) or _no_price(ingredient, preferred)
    if not on_offer:
        return _no_price(ingredient, None)
    if len(on_offer) > 1:
        return _no_preferred_supplier(ingredient, on_offer, usable_yield)
    return next(iter(on_offer.values()))


def _precedence(price: Price) -> tuple[bool, date, Mark]:
    return (price.effective_to is not None, price.effective_from, price.made)


def _no_price(ingredient: Ingredient, preferred: str | None) -> Gap:
    """The sentence names no day: a gap is the same gap the day after."""
    if preferred is None:
        detail = f"{ingredient.code} has no price in force: record one."
        return Gap("no_price", "ingredient", ingredient.code, detail)
    detail = (f"{ingredient.code} has no price in force from {preferred}, its preferred supplier: record "
              "one, or prefer another supplier.")
    return Gap("no_price", "ingredient", ingredient.code, detail, {"supplier": preferred})


def _no_preferred_supplier(ingredient: Ingredient, on_offer: Mapping[str, Price], usable_yield: Fraction | None) -> Gap:
    listed = [
        {
            "supplier": supplier,
            "price": price.id,
            "cost_per_usable_unit": _cost_per_usable_unit(price, ingredient, usable_yield),
            "unit": ingredient.base_unit if usable_yield is None else "kg",
        }
        for supplier, price in on_offer.items()
    ]
    detail = (f"{ingredient.code} has prices from {', '.join(on_offer)} and no preferred supplier: say which one "
              "decides.")
    return Gap("no_preferred_supplier", "ingredient", ingredient.code, detail, {"offers": listed})


def _cost_per_usable_unit(price: Price, ingredient: Ingredient, usable_yield: Fraction | None) -> str | None:
    """To 4 decimals, per kg of what a breakdown leaves to use; None when something does not convert, or nothing of what
    is bought is usable."""
    if usable_yield is not None and usable_yield <= 0:
        return None
    try:
        cost = unit_price(price, ingredient)
        if usable_yield is not None:
            cost *= convert(ONE, "kg", ingredient.base_unit, ingredient.conversions) / usable_yield
    except MissingConversion:
        return None
    return text(published(cost, UNIT_COST_PLACES))
