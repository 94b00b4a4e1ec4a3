"""Prices and their table.

A worker holds every price that was ever recorded, so what their rows repeat (the unit, the delivery's reference) is one
object: some 220 bytes a price, 350 without.
"""

from collections.abc import Sequence
from sys import intern
from typing import Any

from service.domain.history import Mark
from service.domain.price import Price, Withdrawal
from service.persistence.records.shelf import Codes, Ids, Row


def price_columns(prices: Sequence[Price], ids: Ids) -> dict[str, Sequence[Any]]:
    """Prices column by column: a list brings thousands."""
    return {
        "made_revision": [price.made.revision for price in prices],
        "made_entry": [price.made.entry for price in prices],
        "ingredient_id": ids.every("ingredient", [price.ingredient for price in prices]),
        "supplier_id": ids.every("supplier", [price.supplier for price in prices]),
        "amount": [price.amount for price in prices],
        "pack_quantity": [price.pack_quantity for price in prices],
        "pack_unit": [price.pack_unit for price in prices],
        "effective_from": [price.effective_from for price in prices],
        "effective_to": [price.effective_to for price in prices],
        "reference": [price.reference for price in prices],
    }


def price(row: Row, codes: Codes, revision: int) -> Price:
    """The price of a row, in the order of the table's columns, as known at `revision`: a later withdrawal is not."""
    (made, entry, ingredient, supplier, amount, pack_quantity, pack_unit, start, end, reference,
     withdrawn, withdrawn_entry, reason) = row
    return Price(
        codes["ingredient"][ingredient],
        codes["supplier"][supplier],
        amount,
        pack_quantity,
        intern(pack_unit),
        start,
        end,
        intern(reference),
        Mark(made, entry),
        None if withdrawn is None else taken_back(withdrawn, withdrawn_entry, reason, revision),
    )


def taken_back(by: int | None, entry: int, reason: str, revision: int) -> Withdrawal | None:
    """The withdrawal, when it was made by `revision`."""
    return None if by is None or by > revision else Withdrawal(Mark(by, entry), reason)
