"""Ingredients and their tables."""

from typing import Any

from service.domain.ingredient import Ingredient, StandardCode
from service.persistence.records.conversions import conversions, listed
from service.persistence.records.shelf import Codes, Ids, Row, Shelf, Values
from service.persistence.tables import records


def _row(record: Ingredient, ids: Ids) -> Values:
    return {
        "name": record.name,
        "kind": record.kind,
        "base_unit": record.base_unit,
        "conversions": listed(record.conversions),
        "allergens": record.allergens,
        "standard_codes": [{"scheme": one.scheme, "code": one.code} for one in record.standard_codes],
        "preferred_supplier_id": ids.of("supplier", record.preferred_supplier),
    }


def _record(code: str, row: Row, _parts: tuple[Any, ...], codes: Codes) -> Ingredient:
    supplier = row.preferred_supplier_id
    return Ingredient(
        code=code,
        name=row.name,
        kind=row.kind,
        base_unit=row.base_unit,
        conversions=conversions(row.conversions),
        allergens=None if row.allergens is None else tuple(row.allergens),
        standard_codes=tuple(StandardCode(one["scheme"], one["code"]) for one in row.standard_codes),
        preferred_supplier=None if supplier is None else codes["supplier"][supplier],
    )


INGREDIENT = Shelf("ingredient", records.ingredient, records.ingredient_version, _row, _record)
