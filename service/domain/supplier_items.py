"""A supplier's items as they stand on a day: by the supplier's own codes, by GTIN, and by name.

A list has up to 100 000 rows, so all are read once and then looked up.
"""

from collections import Counter
from collections.abc import Mapping
from datetime import date

from service.domain.gtin import in_fourteen_digits
from service.domain.history import record_on
from service.domain.kitchen import Kitchen
from service.domain.supplier_item import SupplierItem, item_key


def items_of(kitchen: Kitchen, supplier: str, day: date) -> dict[str, SupplierItem]:
    """The supplier's items that stand on `day`, by the supplier's own code for each."""
    theirs = item_key(supplier, "")
    records = (record_on(history, day) for key, history in kitchen.supplier_items.items() if key.startswith(theirs))
    return {record.code: record for record in records if record is not None}


def by_gtin(items: Mapping[str, SupplierItem]) -> dict[str, SupplierItem]:
    """The items that have a GTIN, by it in 14 digits (`in_fourteen_digits`), since lists write it with 8, 12, 13 or 14.
    """
    return {in_fourteen_digits(item.gtin): item for item in items.values() if item.gtin}


def by_name(items: Mapping[str, SupplierItem]) -> dict[str, SupplierItem]:
    """The items by their names, whatever the case. A name that two of them have names neither."""
    times = Counter(item.name.casefold() for item in items.values())
    return {name: item for item in items.values() if times[name := item.name.casefold()] == 1}
