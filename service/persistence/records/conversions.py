"""Conversions as the small free list that ingredients and recipes keep as JSON text; quantities are text in it."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from service.domain.quantity import Conversion


def listed(conversions: Sequence[Conversion]) -> list[dict[str, Any]]:
    return [
        {"unit": one.unit, "to_quantity": one.to_quantity, "to_unit": one.to_unit, "quantity": one.quantity}
        for one in conversions
    ]


def conversions(rows: Sequence[dict[str, Any]]) -> tuple[Conversion, ...]:
    return tuple(
        Conversion(row["unit"], Decimal(row["to_quantity"]), row["to_unit"], Decimal(row["quantity"])) for row in rows
    )
