"""The kitchen's settings and their tables. There is one record, under the code `settings`."""

from dataclasses import asdict
from typing import Any

from service.domain.kitchen_settings import KitchenSettings
from service.persistence.records.section_targets import listed, section_targets
from service.persistence.records.shelf import Codes, Ids, Row, Shelf, Values
from service.persistence.tables import records

CODE = "settings"


def _row(record: KitchenSettings, _ids: Ids) -> Values:
    return asdict(record) | {"section_targets": listed(record.section_targets)}


def _record(_code: str, row: Row, _parts: tuple[Any, ...], _codes: Codes) -> KitchenSettings:
    return KitchenSettings(
        currency=row.currency,
        time_zone=row.time_zone,
        business_day_start=row.business_day_start,
        default_tax_rate_percent=row.default_tax_rate_percent,
        menu_prices_include_tax=row.menu_prices_include_tax,
        labour_rate_per_hour=row.labour_rate_per_hour,
        default_target_food_cost_percent=row.default_target_food_cost_percent,
        price_step=row.price_step,
        scale_tolerance_percent=row.scale_tolerance_percent,
        price_change_limit_percent=row.price_change_limit_percent,
        price_deviation_limit=row.price_deviation_limit,
        closed_through=row.closed_through,
        section_targets=section_targets(row.section_targets),
    )


SETTINGS = Shelf("settings", records.kitchen_settings, records.kitchen_settings_version, _row, _record)
