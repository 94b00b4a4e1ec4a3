"""An invented kitchen for the page of price lists, and lists of its supplier that hold something of everything.

A topside whose rise takes a roast out of its target, a shin at twice its price, a cream that stays as it is, eggs
without a price so far, and codes that stand for nothing here.
"""

from pathlib import Path
from typing import Any

from tests.stories.running_service import Client

SUPPLIER = "fenmoor"
STARTS = "2026-11-30"
HEAD = "Ref;Bezeichnung;Einheit;Preis"
TOPSIDE, SHIN, CREAM, BUTTER, EGGS = range(1, 6)
"""The rows of the list, by number."""

ROWS = (
    "10-1;Topside PAD;kg;15,20",
    "10-2;Shin, boned;kg;19,60",
    "20-1;Double cream;l;4,20",
    "20-2;Butter, unsalted;kg;6,60",
    "30-1;Free range eggs;each;0,24",
)
UNKNOWN = 130
"""So many rows follow whose codes stand for nothing here: more than a page shows at once."""

INGREDIENTS: tuple[tuple[str, str, str, str | None], ...] = (
    ("beef-topside", "Beef topside", "kg", "13.90"), ("beef-shin", "Beef shin", "kg", "9.80"),
    ("double-cream", "Double cream", "l", "4.20"), ("butter", "Butter", "kg", "6.40"), ("egg", "Egg", "each", None),
    ("salt", "Salt", "kg", "0.90"))
ITEMS = (("10-1", "Topside PAD", "beef-topside", "kg"), ("10-2", "Shin, boned", "beef-shin", "kg"),
         ("20-1", "Double cream", "double-cream", "l"), ("20-2", "Butter, unsalted", "butter", "kg"),
         ("30-1", "Free range eggs", "egg", "each"))
DISHES: tuple[tuple[str, str, str, str, str], ...] = (
    ("topside-roast", "Topside roast", "9.50", "beef-topside", "200"),
    ("braised-shin", "Braised shin", "15.00", "beef-shin", "250"),
    ("brown-butter", "Brown butter <b>&amp;</b> bread", "6.00", "butter", "60"))


def record_kitchen(admin: Client) -> None:
    """Record all that the lists speak of."""
    settings = admin.read("/v1/settings")
    answer = admin.put("/v1/settings", {
        "currency": "GBP", "default_tax_rate_percent": "0", "default_target_food_cost_percent": "30",
        "menu_prices_include_tax": False}, if_match=f'"{settings["revision"]}"')
    assert answer.status_code in (200, 201), answer.text
    admin.keep(f"/v1/suppliers/{SUPPLIER}", {"name": "Fenmoor Larder"})
    admin.keep("/v1/suppliers/holt", {"name": "Holt & Daughter"})
    for code, name, unit, price in INGREDIENTS:
        admin.keep(f"/v1/ingredients/{code}", {"name": name, "kind": "larder", "base_unit": unit})
        if price is not None:
            admin.keep(f"/v1/ingredients/{code}/prices", {
                "supplier": SUPPLIER, "amount": price, "pack_quantity": "1", "pack_unit": unit,
                "effective_from": "2026-03-02"})
    for code, name, ingredient, unit in ITEMS:
        admin.keep(f"/v1/suppliers/{SUPPLIER}/items/{code}", {
            "name": name, "ingredient": ingredient, "priced_per": unit,
            "pack": {"name": "case", "count": "2", "quantity": "5", "unit": unit}})
    for code, name, menu_price, ingredient, grams in DISHES:
        admin.keep(f"/v1/dishes/{code}", {
            "name": name, "portions": "1", "menu_price": menu_price,
            "lines": [{"ingredient": ingredient, "quantity": grams, "unit": "g"}]})


def a_list(*more: str, rows: tuple[str, ...] = ROWS, head: str = HEAD) -> bytes:
    """A list as the supplier's program writes it: semicolons, decimal commas, Windows-1252."""
    return ("\r\n".join((head, *rows, *more)) + "\r\n").encode("windows-1252")


def a_long_list(note: str = "") -> bytes:
    """The list, and many rows that stand for nothing here."""
    return a_list(*(f"99-{number};Something else{note};kg;1,00" for number in range(UNKNOWN)))


def written(folder: Path, name: str, content: bytes) -> Path:
    """A file as it lies on somebody's disk."""
    path = folder / name
    path.write_bytes(content)
    return path


def price_now(admin: Client, ingredient: str) -> Any:
    """The prices of an ingredient, the one recorded last first."""
    return admin.read(f"/v1/ingredients/{ingredient}/prices")["data"]
