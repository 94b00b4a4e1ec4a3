"""Targets of sections as the small free list that the settings keep as JSON text; percents are text in it.

None is no list: so the settings are kept that were recorded before sections had targets, and those that name none.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from service.domain.kitchen_settings import SectionTarget


def listed(targets: Sequence[SectionTarget]) -> list[dict[str, Any]] | None:
    return [{"section": one.section, "target_food_cost_percent": one.target_food_cost_percent}
            for one in targets] or None


def section_targets(rows: Sequence[dict[str, Any]] | None) -> tuple[SectionTarget, ...]:
    return tuple(SectionTarget(row["section"], Decimal(row["target_food_cost_percent"])) for row in rows or ())
