"""The sheet of prices: for each ingredient the price that decides, and what it makes a base unit cost.

    unit price = amount / (pack quantity x base units in one pack unit)

Where no price decides, the amount is an empty entry for a pack of one base unit.
"""

from decimal import Decimal

from service.domain.compile import price_or_gap
from service.domain.findings import Gap
from service.domain.ingredient import Ingredient
from service.domain.live_table import Band, Cell, Column, Entry, Form, Given, Label, Live, Table
from service.domain.workbook_names import material_of
from service.domain.workbook_source import WorkbookSource
from service.domain.workbook_units import units_cell

ONE = Decimal(1)


def prices_table(source: WorkbookSource, names: dict[str, str]) -> Table:
    """One line an ingredient; each unit price gets its name."""
    currency = source.kitchen.settings.currency
    table = Table("Prices", "Prices", "The price in force that decides, for each ingredient, without recoverable tax.",
                  _columns(currency))
    for ingredient in source.ingredients:
        row = table.add(_line(source, ingredient))
        names[material_of(("ingredient", ingredient.code))] = table.address("unit_price", row)
    return table


def _columns(currency: str) -> tuple[Column, ...]:
    return (
        Column("name", "Ingredient", Form.TEXT, Band.NAMES, 34),
        Column("supplier", "Supplier", Form.TEXT, Band.NAMES, 24),
        Column("amount", f"Price, {currency}", Form.NUMBER, Band.ENTRIES),
        Column("pack", "for so much", Form.NUMBER, Band.ENTRIES),
        Column("pack_unit", "of unit", Form.TEXT, Band.NAMES, 10),
        Column("factor", "Base units in one", Form.NUMBER, Band.WORKING, 13),
        Column("unit_price", f"{currency} per base unit", Form.COST, Band.WORKING, 14),
        Column("base_unit", "Base unit", Form.TEXT, Band.NAMES, 10),
        Column("from", "In force from", Form.TEXT, Band.NAMES, 13),
        Column("to", "to", Form.TEXT, Band.NAMES, 13),
        Column("reference", "Reference", Form.TEXT, Band.NAMES, 18),
        Column("missing", "Missing when this copy was made", Form.TEXT, Band.NAMES, 50),
        Column("code", "Code", Form.TEXT, Band.WORKING, 24),
    )


def _line(source: WorkbookSource, ingredient: Ingredient) -> dict[str, Cell]:
    key = ("ingredient", ingredient.code)
    price = price_or_gap(source.kitchen, ingredient)
    line: dict[str, Cell] = {
        "name": Label(ingredient.name), "base_unit": Label(ingredient.base_unit), "code": Label(ingredient.code),
        "unit_price": Live("[amount]/([pack]*[factor])", source.costing.material(key)),
        "missing": Label(source.missing(key))}
    if isinstance(price, Gap):
        return line | {"amount": Entry(None), "pack": Entry(ONE), "pack_unit": Label(ingredient.base_unit),
                       "factor": Given(ONE)}
    supplier = source.kitchen.suppliers.get(price.supplier)
    return line | {
        "supplier": Label(price.supplier if supplier is None else supplier.name or price.supplier),
        "amount": Entry(price.amount), "pack": Entry(price.pack_quantity), "pack_unit": Label(price.pack_unit),
        "factor": units_cell(source, key, price.pack_unit), "from": Label(price.effective_from.isoformat()),
        "to": Label("" if price.effective_to is None else price.effective_to.isoformat()),
        "reference": Label(price.reference)}
