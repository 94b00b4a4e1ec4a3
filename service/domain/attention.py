"""What needs attention first on a menu: dishes outside their target, those whose figures are not complete, the rest.

Rules that always hold: the order is one of published figures alone; outside target the furthest off comes first, and of
two equally far the one that moved more; of the rest those that have come nearer to their target since the day before
come first, by how much, then whoever has least room left.
"""

from decimal import Decimal
from enum import StrEnum

NIL = Decimal(0)


class Attention(StrEnum):
    """Why a dish is looked at, in the order in which it is."""

    OUTSIDE = "outside"
    UNKNOWN = "unknown"
    WITHIN = "within"


_PLACES = {attention: place for place, attention in enumerate(Attention)}


def points_between(percent: str | None, other: str | None) -> Decimal | None:
    """How far one published percent lies above another, in percentage points; None where one is not known."""
    return None if percent is None or other is None else Decimal(percent) - Decimal(other)


def attention_of(within_target: bool | None, complete: bool) -> Attention:
    """Why a dish is looked at. Outside its target it is so also where its labour is not known."""
    if within_target is False:
        return Attention.OUTSIDE
    return Attention.WITHIN if within_target and complete else Attention.UNKNOWN


def attention_order(attention: Attention, off: Decimal | None, moved: Decimal | None, name: str
                    ) -> tuple[int, Decimal, Decimal, str]:
    """What dishes are sorted by. Units: percentage points, `off` of the target and `moved` since the day before.

    Example: of two dishes within target, one that moved +0.40 comes before one that stands nearer to its target.
    """
    rise, distance = moved or NIL, off or NIL
    if attention is Attention.WITHIN:
        return _PLACES[attention], -max(rise, NIL), -distance, name
    return _PLACES[attention], -distance, -rise, name
