"""Mends as documents: what would mend a dish that is outside its target, each alone."""

from collections.abc import Mapping
from fractions import Fraction

from service.domain.currency import minor_unit
from service.domain.ingredient import Ingredient
from service.domain.kitchen import KitchenOnDay
from service.domain.kitchen_settings import KitchenSettings
from service.domain.mends import Mending, Mends
from service.domain.publication import cost_in_words, in_words, percent_in_words
from service.use_cases.cost_rows import dish_row
from service.use_cases.documents import Document, plain
from service.use_cases.snapshot import Snapshot

HUNDRED = Fraction(100)


def mending_of(snapshot: Snapshot) -> Mending:
    """What finds the mends of a snapshot's dishes; kept with it."""
    return snapshot.kept("mending", lambda: Mending(
        snapshot.costing, snapshot.kitchen.settings, _primals(snapshot.kitchen)))


def _primals(kitchen: KitchenOnDay) -> frozenset[str]:
    return frozenset(breakdown.input.ingredient for breakdown in kitchen.breakdowns.values()
                     if breakdown.in_use and breakdown.input.ingredient is not None)


def dish_mends(snapshot: Snapshot, dish: str) -> Document:
    """What would mend a dish of the menu; its `mends` are None when it is within its target, or that is not known.

    Raises:  NotFound when no such dish stands on the snapshot's day.
    """
    row = dish_row(snapshot, dish)
    mends = mending_of(snapshot).of(snapshot.kitchen.dishes[dish])
    return {name: row[name] for name in ("dish", "as_of", "revision", "currency", "within_target")} | {
        "mends": None if mends is None else mends_document(
            mends, snapshot.kitchen.settings, snapshot.kitchen.ingredients)}


def mends_document(mends: Mends, settings: KitchenSettings, ingredients: Mapping[str, Ingredient]) -> Document:
    """The mends as they go out: menu price in the currency's minor unit, portions as a record holds them, unit prices
    to 4 decimals."""
    places = minor_unit(settings.currency)
    return {
        "menu_price": in_words(mends.menu_price, places),
        "portions": None if mends.portions is None else plain(mends.portions),
        "portion_percent": percent_in_words(_cut_off(mends.portion)),
        "ingredient_prices": [{
            "ingredient": mend.ingredient, "name": ingredients[mend.ingredient].name,
            "base_unit": ingredients[mend.ingredient].base_unit, "broken_down": mend.broken_down,
            "unit_price": cost_in_words(mend.unit_price), "unit_price_now": cost_in_words(mend.unit_price_now),
            "change_percent": percent_in_words(mend.change * HUNDRED)} for mend in mends.prices]}


def _cut_off(portion: Fraction | None) -> Fraction | None:
    """As a percentage, cut off after its second decimal: a portion so small is within for sure."""
    return None if portion is None else portion * 10_000 // 1 / HUNDRED
