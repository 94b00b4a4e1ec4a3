"""Read prices: an ingredient's history, and the price list of a day."""

from datetime import date

from service.domain.errors import MissingConversion, NotFound
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen
from service.domain.price import Price
from service.domain.price_in_force import offers, unit_price
from service.domain.rounding import published, text
from service.use_cases.documents import price_document
from service.use_cases.read_record import Listed, page_by_id


def price_history(kitchen: Kitchen, ingredient: str, after: str, limit: int) -> Listed:
    """Every price of an ingredient, withdrawn ones too, the one recorded last first.

    Raises:  NotFound for the ingredient.
    """
    if ingredient not in kitchen.ingredients:
        raise NotFound(f"There is no ingredient {ingredient!r}.")
    prices = [price_document(price) for price in reversed(kitchen.prices.get(ingredient, ()))]
    return page_by_id(prices, after, limit)


def price_list(kitchen: Kitchen, day: date, supplier: str | None, after: str, limit: int) -> Listed:
    """The prices in force on `day`, one for each ingredient and supplier, with the price per base unit.

    Shape:   a price's document, and `unit_price` per `base_unit` (4 decimals; null where the pack no longer converts).
    """
    standing = kitchen.on(day)
    rows = []
    for code in sorted(standing.ingredients):
        ingredient = standing.ingredients[code]
        on_offer = offers(standing.prices.get(code, ()), day)
        for name in sorted(on_offer):
            if name in standing.suppliers and supplier in (None, name):
                per_unit = _unit_price(on_offer[name], ingredient)
                rows.append(price_document(on_offer[name]) | {
                    "base_unit": ingredient.base_unit, "unit_price": per_unit,
                    "preferred": ingredient.preferred_supplier == name})
    return page_by_id(rows, after, limit)


def _unit_price(price: Price, ingredient: Ingredient) -> str | None:
    try:
        return text(published(unit_price(price, ingredient), 4))
    except MissingConversion:
        return None
