"""An invoice's rows with what it charges beside them in their prices: where that is asked for, and can be done.

Rows as the file has them are kept beside these: what was agreed, and whether a line adds up, is held against those.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.currency import minor_unit
from service.domain.invoice_charges import spread_by_weight, total_of
from service.domain.price_list import PriceList, PriceRow
from service.domain.review_ground import Ground
from service.domain.row_price import pack_of
from service.domain.supplier_item import PACK


def landed_rows(said: PriceList, rows: Sequence[PriceRow], asked: bool, ground: Ground
                ) -> tuple[Sequence[PriceRow], list[tuple[str, str]]]:
    """The rows as they are paid for, in the same order, and what is found of the document's charges."""
    if not said.charges:
        return rows, []
    named = ", ".join(f"{one.reason or 'charge'} {one.amount:f}" for one in said.charges)
    if not asked:
        return rows, [("document_charges", f"The invoice charges beside its lines: {named}. They are in no price; ask "
                                           "for spread_charges to spread them by weight.")]
    places = minor_unit(ground.settings.currency)
    landed = spread_by_weight(rows, [_weight(row, ground) for row in rows], total_of(said.charges), places)
    if landed is None:
        return rows, [("document_charges", f"The invoice charges beside its lines: {named}. They are in no price, "
                                           "since not every line has a weight to spread them by.")]
    return landed, [("charges_spread", f"What the invoice charges beside its lines is spread by weight: {named}.")]


def _weight(row: PriceRow, ground: Ground) -> Fraction | None:
    """The billed weight of a line in kg; None where its unit is not known, or has no weight."""
    item = ground.item(row.item, row.gtin, row.name)
    ingredient = ground.ingredient(item.ingredient) if item is not None else None
    if item is None or ingredient is None or row.billed_quantity is None:
        return None
    if row.per_unit is None and row.per_unit_text:
        return None
    unit = row.per_unit or item.priced_per
    pack = pack_of(row, item)
    quantity, unit = (row.billed_quantity * pack.holds, pack.unit) if unit == PACK else (row.billed_quantity, unit)
    factor = ground.base_units(unit, ingredient)
    in_kg = ground.base_units("kg", ingredient)
    return None if factor is None or in_kg is None else Fraction(quantity) * factor / in_kg
