"""Prices and their table."""

from service.domain.history import Mark
from service.domain.price import Price, Withdrawal
from service.persistence.records.shelf import Codes, Ids, Row, Values


def price_row(price: Price, ids: Ids) -> Values:
    return {
        "made_revision": price.made.revision,
        "made_entry": price.made.entry,
        "ingredient_id": ids.of("ingredient", price.ingredient),
        "supplier_id": ids.of("supplier", price.supplier),
        "amount": price.amount,
        "pack_quantity": price.pack_quantity,
        "pack_unit": price.pack_unit,
        "effective_from": price.effective_from,
        "effective_to": price.effective_to,
        "reference": price.reference,
    }


def price(row: Row, codes: Codes, revision: int) -> Price:
    """The price as known at `revision`: a later withdrawal is not known yet."""
    return Price(
        ingredient=codes["ingredient"][row.ingredient_id],
        supplier=codes["supplier"][row.supplier_id],
        amount=row.amount,
        pack_quantity=row.pack_quantity,
        pack_unit=row.pack_unit,
        effective_from=row.effective_from,
        effective_to=row.effective_to,
        reference=row.reference,
        made=Mark(row.made_revision, row.made_entry),
        withdrawn=taken_back(row.withdrawn_revision, row.withdrawn_entry, row.withdrawn_reason, revision),
    )


def taken_back(by: int | None, entry: int, reason: str, revision: int) -> Withdrawal | None:
    """The withdrawal, when it was made by `revision`."""
    return None if by is None or by > revision else Withdrawal(Mark(by, entry), reason)
