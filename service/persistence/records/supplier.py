"""Suppliers and their tables."""

from typing import Any

from service.domain.supplier import Supplier
from service.persistence.records.shelf import Codes, Ids, Row, Shelf, Values
from service.persistence.tables import records


def _row(record: Supplier, _ids: Ids) -> Values:
    return {"name": record.name, "note": record.note}


def _record(code: str, row: Row, _parts: tuple[Any, ...], _codes: Codes) -> Supplier:
    return Supplier(code=code, name=row.name, note=row.note)


SUPPLIER = Shelf("supplier", records.supplier, records.supplier_version, _row, _record)
