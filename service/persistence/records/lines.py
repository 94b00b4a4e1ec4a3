"""The lines of recipes and dishes: by far the most rows there are, so their way back is kept short."""

from collections.abc import Sequence

from sqlalchemy import Table

from service.domain.recipe import Line
from service.persistence.records.shelf import Codes, Ids, Parts, Row, Values


def line_rows(lines: Sequence[Line], ids: Ids) -> list[Values]:
    return [
        {
            "quantity": line.quantity,
            "unit": line.unit,
            "ingredient_id": ids.of("ingredient", line.ingredient),
            "cut_id": ids.of("cut", line.cut),
            "recipe_id": ids.of("recipe", line.recipe),
            "yield_percent": line.yield_percent,
            "cooking_yield_percent": line.cooking_yield_percent,
            "note": line.note,
        }
        for line in lines
    ]


def line(row: Row, codes: Codes) -> Line:
    """The line of a row, in the order of the table's columns."""
    _, _, _, quantity, unit, ingredient, cut, recipe, yield_percent, cooking_yield_percent, note = row
    return Line(
        quantity,
        unit,
        None if ingredient is None else codes["ingredient"][ingredient],
        None if cut is None else codes["cut"][cut],
        None if recipe is None else codes["recipe"][recipe],
        yield_percent,
        cooking_yield_percent,
        note,
    )


def lines_in(table: Table) -> Parts:
    return Parts(table, lambda record, ids: line_rows(record.lines, ids), line)
