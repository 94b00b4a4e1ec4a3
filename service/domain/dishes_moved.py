"""Which dishes publish other figures than before, from the columns of both menus."""

import numpy as np

from service.domain.decimal_column import DecimalColumn
from service.domain.published_menu import PublishedDishes
from service.domain.settle import Mask


def places_moved(before: PublishedDishes, after: PublishedDishes) -> list[int]:
    """The rows, of two menus of the same dishes, in which a figure is not the same."""
    moved: Mask = before.within_target != after.within_target
    for name, column in after.columns().items():
        moved |= _differ(before.columns()[name], column)
    return np.flatnonzero(moved).tolist()


def _differ(before: DecimalColumn, after: DecimalColumn) -> Mask:
    if before is after:
        return np.zeros(len(after.scaled), dtype=np.bool_)
    differ: Mask = (before.scaled != after.scaled) | (before.known != after.known)
    differ[[*before.large, *after.large]] = True
    return differ
