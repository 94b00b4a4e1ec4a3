"""Read a supplier's items: a page of those that stand on a day, by the supplier's own codes."""

from datetime import date

from service.domain.errors import NotFound
from service.domain.history import record_on
from service.domain.kitchen import Kitchen
from service.domain.supplier_item import item_key
from service.use_cases.documents import Document
from service.use_cases.keep_record import record_document
from service.use_cases.read_record import Listed


def supplier_items(
    kitchen: Kitchen, supplier: str, ingredient: str | None, day: date, after: str, limit: int
) -> Listed:
    """At most `limit` items of a supplier, or those of them that are one ingredient, after a code of the supplier's.

    Items of a supplier that is retired are listed too: they wait for its return.

    Raises:  NotFound for the supplier.
    """
    if supplier not in kitchen.suppliers:
        raise NotFound(f"There is no supplier {supplier!r}.")
    theirs = item_key(supplier, "")
    page: list[Document] = []
    for key in sorted(key for key in kitchen.supplier_items if key.startswith(theirs) and key > theirs + after):
        history = kitchen.supplier_items[key]
        item = record_on(history, day)
        if item is not None and ingredient in (None, item.ingredient):
            if len(page) == limit:
                return Listed(page, page[-1]["code"])
            page.append(record_document(history, day))
    return Listed(page, None)
