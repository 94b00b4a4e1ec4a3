"""A messy price list of 300 rows for the demo kitchen, with what each row is to be found to be. All of it is invented.

The same rows are written in two locales: as a British spreadsheet saves CSV, and as a German one does, under a heading
of four lines. Every row but the odd ones prices an ingredient of its own.
"""

import csv
import io
from dataclasses import dataclass
from decimal import Decimal

from tests.stories.running_service import Client

SUPPLIER = "harrowick"
FILLERS = 270
TODAYS: dict[str, tuple[str, str]] = {
    "shallot": ("24.00", "10 kg"), "onion": ("15.00", "20 kg"), "carrot": ("7.00", "10 kg"), "leek": ("10.50", "5 kg"),
    "garlic": ("5.20", "1 kg"), "potato": ("18.75", "25 kg"), "mushroom": ("9.00", "2.5 kg"),
    "spinach": ("5.80", "1 kg"), "red-pepper": ("16.00", "5 kg"), "pak-choi": ("17.00", "5 kg"),
    "ginger": ("4.60", "1 kg"), "butter": ("68.00", "10 kg"), "double-cream": ("8.60", "2 l"), "milk": ("1.90", "2 l"),
    "plain-flour": ("12.80", "16 kg"), "breadcrumbs": ("11.00", "5 kg"), "pappardelle": ("15.50", "5 kg"),
    "wheat-noodles": ("8.40", "3 kg"), "rapeseed-oil": ("38.00", "20 l"), "tomato-paste": ("2.60", "800 g"),
    "dijon-mustard": ("9.60", "2 kg"), "capers": ("6.30", "700 g"), "gherkins": ("7.20", "2.3 kg"),
    "horseradish": ("7.40", "1 kg"), "soy-sauce": ("9.60", "3 l"), "red-wine": ("27.00", "4.5 l"),
    "white-wine": ("26.10", "4.5 l")}
"""What the supplier charges now, by ingredient: money, and for how much."""


@dataclass(frozen=True)
class ListedRow:
    """A row as the supplier means it. `price` may be what no reader can take for a number."""

    item: str
    name: str
    price: Decimal | str
    unit: str = ""
    pack: str = ""
    currency: str = "GBP"
    ends: str = ""
    least: str = ""
    gtin: str = ""
    found: tuple[str, ...] = ()


def prepare(finance: Client) -> None:
    """Record the ingredients and items that the list is about."""
    for code, (_, pack) in TODAYS.items():
        _keep_item(finance, f"V-{code}", code, pack)
    for number in range(FILLERS):
        _keep(finance, f"/v1/ingredients/larder-{number}", {
            "name": f"Larder {number}", "kind": "other", "base_unit": "kg", "allergens": []})
        _keep_item(finance, f"L-{number}", f"larder-{number}", "5 kg")
    for code in ("old-salt", "twin"):
        _keep(finance, f"/v1/ingredients/{code}", {"name": code, "kind": "other", "base_unit": "kg", "allergens": []})
    _keep_item(finance, "V-old-salt", "old-salt", "1 kg")
    gone = finance.read("/v1/ingredients/old-salt")
    assert finance.ask("DELETE", "/v1/ingredients/old-salt", if_match=f'"{gone["revision"]}"').status_code == 204
    _keep_item(finance, "V-twin-a", "twin", "1 kg")
    _keep_item(finance, "V-twin-b", "twin", "2 kg")
    _keep_item(finance, "V-coded", "parsley", "1 each", gtin="4006381333931")
    _keep(finance, "/v1/ingredients/contested", {"name": "Contested", "kind": "other", "base_unit": "kg",
                                                 "allergens": []})
    _keep_item(finance, "V-contested", "contested", "1 kg")
    theirs = {"supplier": "fenmoor", "amount": "2.00", "pack_quantity": "1", "pack_unit": "kg"}
    assert finance.post("/v1/ingredients/contested/prices", theirs).status_code == 201
    contract = {"supplier": SUPPLIER, "amount": "2.00", "pack_quantity": "1", "pack_unit": "kg",
                "effective_from": "2026-01-05", "effective_to": "2027-06-30", "reference": "Agreed for the year"}
    assert finance.post("/v1/ingredients/larder-0/prices", contract).status_code == 201
    scheduled = contract | {"effective_from": "2027-02-01", "effective_to": None, "reference": "From February"}
    assert finance.post("/v1/ingredients/larder-1/prices", scheduled).status_code == 201
    _keep_item(finance, "V-thyme", "thyme", "1 each", gtin="6291041500213")


def messy_rows() -> list[ListedRow]:
    """All 300 rows, the odd ones first."""
    rows = [*_odd_rows(), *_dearer_rows()]
    taken = {row.item for row in rows}
    plain = [ListedRow(f"L-{number}", f"Larder {number}", Decimal(200 + number) / 100, "kg", found=("first_price",))
             for number in range(FILLERS) if f"L-{number}" not in taken]
    return [*rows, *plain][:300]


def british(rows: list[ListedRow]) -> bytes:
    """UTF-8 with a byte order mark, commas between cells, points in numbers, the header in the first line."""
    target = io.StringIO(newline="")
    table = csv.writer(target)
    table.writerow(["Item code", "Description", "Unit", "Price", "Currency", "Pack", "Valid until", "From quantity",
                    "GTIN"])
    table.writerows([row.item, row.name, row.unit, _british(row.price), row.currency, row.pack, row.ends, row.least,
                     row.gtin] for row in rows)
    return target.getvalue().encode("utf-8-sig")


def german(rows: list[ListedRow]) -> bytes:
    """Windows-1252, semicolons, decimal commas, dates by points, the header under a heading of four lines."""
    header = "Artikelnummer;Bezeichnung;Einheit;Preis;Währung;Gebinde;Gültig bis;Ab Menge;GTIN"
    heading = [f"{line};;;;;;;;" for line in ("Harrowick Larder", "Preisliste für die Küche", "", "Preise ohne MwSt.")]
    lines = [*heading, header, *(";".join([
                 row.item, row.name, row.unit, _german(row.price), row.currency, row.pack.replace(".", ","),
                 ".".join(reversed(row.ends.split("-"))), row.least, row.gtin]) for row in rows)]
    return ("\r\n".join(lines) + "\r\n").encode("cp1252")


def _odd_rows() -> list[ListedRow]:
    return [
        ListedRow("V-garlic", "Garlic", "on request", "kg", found=("unreadable_row",)),
        ListedRow("X-1", "Shallots, banana", Decimal("3.10"), "kg", found=("unknown_item",)),
        ListedRow("V-onion", "Onion", Decimal("0.78"), "armful", found=("unknown_unit",)),
        ListedRow("V-carrot", "Carrot", Decimal("0.72"), "kg", currency="USD", found=("other_currency",)),
        ListedRow("V-leek", "Leek", Decimal("2.20"), "l", found=("missing_conversion",)),
        ListedRow("V-old-salt", "Old salt", Decimal("1.00"), "kg", found=("retired_ingredient",)),
        ListedRow("L-240", "Larder 240", Decimal("3.00"), "kg", found=("first_price",)),
        ListedRow("L-240", "Larder 240", Decimal("3.00"), "kg", found=("first_price", "duplicate_row")),
        ListedRow("L-241", "Larder 241", Decimal("3.00"), "kg", found=("first_price", "duplicate_row")),
        ListedRow("L-241", "Larder 241", Decimal("3.40"), "kg", found=("first_price", "duplicate_row")),
        ListedRow("L-242", "Larder 242", Decimal("3.00"), "kg", found=("first_price",)),
        ListedRow("L-242", "Larder 242", Decimal("2.80"), "kg", least="100", found=("first_price", "quantity_break")),
        ListedRow("V-ginger", "Ginger", Decimal("4.40"), "kg", ends="2026-11-20", found=("price_over",)),
        ListedRow("V-mushroom", "Mushroom", Decimal("11.40"), "pack", pack="3 kg", found=("pack_differs",)),
        ListedRow("V-spinach", "Spinach", Decimal("7.60"), "kg", found=("outside_history",)),
        ListedRow("V-red-pepper", "Red pepper", Decimal("33.00"), "kg", found=("outside_history", "likely_slip")),
        ListedRow("V-twin-a", "Twin, small", Decimal("1.00"), "kg",
                  found=("first_price", "two_prices_for_ingredient")),
        ListedRow("V-twin-b", "Twin, large", Decimal("0.90"), "kg",
                  found=("first_price", "two_prices_for_ingredient")),
        ListedRow("V-contested", "Contested", Decimal("2.10"), "kg", found=("no_preferred_supplier",)),
        ListedRow("V-pak-choi", "Pak choi", Decimal("3.40"), "kg", found=("price_unchanged",)),
        ListedRow("L-0", "Larder 0", Decimal("2.10"), "kg", found=("contract_holds",)),
        ListedRow("L-1", "Larder 1", Decimal("2.01"), "kg", found=("first_price", "later_price_holds")),
        ListedRow("V-thyme", "Thyme", Decimal("0.88"), "each", gtin="9521234000174", found=("gtin_differs",)),
        ListedRow("P-NEW", "Parsley", Decimal("0.90"), "each", gtin="4006381333931", found=("matched_by_gtin",)),
    ]


def _dearer_rows() -> list[ListedRow]:
    """What is in the dishes, 4 % dearer by the pack."""
    odd = {row.item for row in _odd_rows()}
    return [ListedRow(f"V-{code}", code, (Decimal(amount) * Decimal("1.04")).quantize(Decimal("0.01")), "pack")
            for code, (amount, _) in TODAYS.items() if f"V-{code}" not in odd]


def _keep_item(finance: Client, item: str, ingredient: str, pack: str, gtin: str = "") -> None:
    quantity, unit = pack.split()
    _keep(finance, f"/v1/suppliers/{SUPPLIER}/items/{item}", {
        "name": f"{item} by the pack", "ingredient": ingredient, "gtin": gtin, "priced_per": "pack",
        "pack": {"name": "case", "count": "1", "quantity": quantity, "unit": unit}})


def _keep(finance: Client, path: str, body: object) -> None:
    answer = finance.put(path, body)
    assert answer.status_code == 201, answer.text


def _british(price: Decimal | str) -> str:
    return price if isinstance(price, str) else f"{price:.2f}"


def _german(price: Decimal | str) -> str:
    return _british(price).replace(".", ",")
