"""Recipes and their tables."""

from service.domain.recipe import Line, Recipe
from service.persistence.records.conversions import conversions, listed
from service.persistence.records.lines import lines_in
from service.persistence.records.shelf import Codes, Ids, Row, Shelf, Values
from service.persistence.tables import records


def _row(record: Recipe, _ids: Ids) -> Values:
    return {
        "name": record.name,
        "makes_quantity": record.makes_quantity,
        "makes_unit": record.makes_unit,
        "labour_minutes": record.labour_minutes,
        "conversions": listed(record.conversions),
        "note": record.note,
    }


def _record(code: str, row: Row, lines: tuple[Line, ...], _codes: Codes) -> Recipe:
    return Recipe(
        code=code,
        name=row.name,
        makes_quantity=row.makes_quantity,
        makes_unit=row.makes_unit,
        lines=lines,
        labour_minutes=row.labour_minutes,
        conversions=conversions(row.conversions),
        note=row.note,
    )


RECIPE = Shelf("recipe", records.recipe, records.recipe_version, _row, _record, lines_in(records.recipe_line))
