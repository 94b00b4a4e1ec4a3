"""Suppliers' items and their tables. An item's code in its table is `item_key`: that of its supplier and its own."""

from typing import Any

from service.domain.supplier_item import Pack, SupplierItem, item_key
from service.persistence.records.shelf import Codes, Ids, Row, Shelf, Values
from service.persistence.tables import records


def _row(record: SupplierItem, ids: Ids) -> Values:
    return {
        "supplier_id": ids.of("supplier", record.supplier),
        "name": record.name,
        "ingredient_id": ids.of("ingredient", record.ingredient),
        "pack_name": record.pack.name,
        "pack_count": record.pack.count,
        "pack_quantity": record.pack.quantity,
        "pack_unit": record.pack.unit,
        "priced_per": record.priced_per,
        "gtin": record.gtin,
    }


def _record(code: str, row: Row, _parts: tuple[Any, ...], codes: Codes) -> SupplierItem:
    supplier = codes["supplier"][row.supplier_id]
    return SupplierItem(
        supplier=supplier,
        code=code.removeprefix(item_key(supplier, "")),
        name=row.name,
        ingredient=codes["ingredient"][row.ingredient_id],
        pack=Pack(row.pack_name, row.pack_count, row.pack_quantity, row.pack_unit),
        priced_per=row.priced_per,
        gtin=row.gtin,
    )


SUPPLIER_ITEM = Shelf("supplier_item", records.supplier_item, records.supplier_item_version, _row, _record)
