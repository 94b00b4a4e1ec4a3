"""Dishes and their tables."""

from service.domain.dish import Dish
from service.domain.recipe import Line
from service.persistence.records.lines import lines_in
from service.persistence.records.shelf import Codes, Ids, Row, Shelf, Values
from service.persistence.tables import records


def _row(record: Dish, _ids: Ids) -> Values:
    return {
        "name": record.name,
        "portions": record.portions,
        "section": record.section,
        "allowance_percent": record.allowance_percent,
        "labour_minutes": record.labour_minutes,
        "menu_price": record.menu_price,
        "tax_rate_percent": record.tax_rate_percent,
        "target_food_cost_percent": record.target_food_cost_percent,
        "pos_code": record.pos_code,
    }


def _record(code: str, row: Row, lines: tuple[Line, ...], _codes: Codes) -> Dish:
    return Dish(
        code=code,
        name=row.name,
        portions=row.portions,
        lines=lines,
        section=row.section,
        allowance_percent=row.allowance_percent,
        labour_minutes=row.labour_minutes,
        menu_price=row.menu_price,
        tax_rate_percent=row.tax_rate_percent,
        target_food_cost_percent=row.target_food_cost_percent,
        pos_code=row.pos_code,
    )


DISH = Shelf("dish", records.dish, records.dish_version, _row, _record, lines_in(records.dish_line))
