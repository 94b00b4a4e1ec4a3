"""What the demo's dishes must cost, by the naive judge in plain fractions, rounded half away from zero for publication.

Nothing here comes from the service but the requests that load the demo.
"""

from datetime import date
from fractions import Fraction
from typing import Any

from tests.cli.naive_kitchen import NaiveKitchen
from tests.stories.running_service import WEDNESDAY


def rounded(value: Fraction, places: int) -> str:
    """Half away from zero, for values that are not negative."""
    scaled = int(value * 10**places + Fraction(1, 2))
    whole, part = divmod(scaled, 10**places)
    return f"{whole}.{part:0{places}}"


def kitchen_on(day: date) -> NaiveKitchen:
    """The demo as it was loaded on the Wednesday, on another day."""
    return NaiveKitchen.of_the_demo(WEDNESDAY, day)


def with_price(kitchen: NaiveKitchen, ingredient: str, amount: str, start: date) -> NaiveKitchen:
    """The kitchen with one more price of the preferred supplier, per kg."""
    supplier = kitchen.records["ingredients"][ingredient]["preferred_supplier"]
    kitchen.prices[ingredient].append({
        "supplier": supplier, "amount": amount, "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": start.isoformat(), "effective_to": None})
    return kitchen


def expected_costs(kitchen: NaiveKitchen) -> dict[str, dict[str, Any]]:
    """By dish, the published figures that rest on material and price."""
    return {code: _expected(kitchen, code) for code in kitchen.records["dishes"]}


def published_costs(rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The same figures as the service has published them."""
    names = ("food_cost", "menu_price", "price_before_tax", "food_cost_percent", "gross_profit")
    return {row["dish"]: {name: row[name] for name in names} for row in rows}


def _expected(kitchen: NaiveKitchen, code: str) -> dict[str, Any]:
    dish = kitchen.records["dishes"][code]
    tax = Fraction(dish.get("tax_rate_percent", kitchen.settings["default_tax_rate_percent"]))
    price, food_cost = Fraction(dish["menu_price"]), kitchen.food_cost(code)
    before_tax = price / (1 + tax / 100)
    return {"food_cost": rounded(food_cost, 4), "menu_price": rounded(price, 2),
            "price_before_tax": rounded(before_tax, 4), "food_cost_percent": rounded(100 * food_cost / before_tax, 2),
            "gross_profit": rounded(before_tax - food_cost, 4)}
