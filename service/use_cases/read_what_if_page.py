"""Read what the what-if page starts from: the prices and yields that can be moved, and the dishes of the menu.

Prices come in the order of what they make of the menu, primals first: those are what a chef asks about.
"""

from decimal import Decimal
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.ingredient_weights import menu_weights
from service.domain.network import NIL
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.yields import yields_of
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

SHOWN_AT_ONCE = 8
"""Prices that have a slider from the beginning; the others are chosen from a list."""
LEAST_ROOM = Fraction(10)


def read_what_if_page(snapshot: Snapshot, dish: str | None) -> Document:
    """The document of the page; `dish` is the one that it was opened for, if it stands."""
    kitchen = snapshot.kitchen
    prices = _prices(snapshot)
    for place, price in enumerate(prices):
        price["shown"] = place < SHOWN_AT_ONCE
    return {
        "currency": kitchen.settings.currency, "prices": prices,
        "breakdowns": [_breakdown(breakdown, snapshot) for _, breakdown in sorted(kitchen.breakdowns.items())
                       if breakdown.in_use],
        "dishes": [{"dish": code, "name": each.name, "menu_price": None if each.menu_price is None else
                    f"{each.menu_price:f}", "portions": f"{each.portions.normalize():f}"}
                   for code, each in sorted(kitchen.dishes.items(), key=lambda told: told[1].name.lower())],
        "dish": None if dish is None or dish not in kitchen.dishes else {
            "dish": dish, "name": kitchen.dishes[dish].name}}


def _prices(snapshot: Snapshot) -> list[Document]:
    """The ingredients that have a price and stand below a dish."""
    kitchen = snapshot.kitchen
    primals = {breakdown.input.ingredient for breakdown in kitchen.breakdowns.values() if breakdown.in_use}
    weights = snapshot.kept("menu weights", lambda: menu_weights(snapshot.network))
    found = []
    for code, (weight, dishes) in weights.items():
        price = snapshot.costing.material(("ingredient", code))
        if price is not None:
            ingredient = kitchen.ingredients[code]
            found.append((code not in primals, -price * weight, code, {
                "ingredient": code, "name": ingredient.name, "base_unit": ingredient.base_unit,
                "unit_price": cost_in_words(price), "primal": code in primals, "dishes": dishes}))
    return [told for _, _, _, told in sorted(found, key=lambda each: each[:3])]


def _breakdown(breakdown: Breakdown, snapshot: Snapshot) -> Document:
    """A breakdown's outputs with their yields in percent of the input, and how far a slider goes."""
    yields = yields_of(breakdown, snapshot.kitchen.yield_tests.get(breakdown.code, ()), snapshot.kitchen.day)
    return {
        "breakdown": breakdown.code, "name": breakdown.name, "yield_basis": yields.basis,
        "outputs": [{
            "cut": output.cut, "name": output.name, "role": output.role.value,
            "percent": percent_in_words(yields.fractions[output.cut] * 100),
            "most": str(_most(yields.fractions[output.cut] * 100))} for output in breakdown.outputs],
        "unaccounted": percent_in_words(max(yields.unaccounted, NIL) * 100)}


def _most(percent: Fraction) -> Decimal:
    """Up to twice the yield, ten points more at least, and all of it at most."""
    return Decimal(min(max(2 * percent, percent + LEAST_ROOM), Fraction(100)) // 1)
