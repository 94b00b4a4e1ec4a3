"""Figures under changed inputs: what every dish costs and earns before and after, with nothing stored.

What a price review and a chef's "what if" both ask.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.scenario import Supposed, kitchen_under
from service.use_cases.cost_rows import dish_rows
from service.use_cases.documents import Document
from service.use_cases.snapshots import Position, Snapshot, Snapshots

_NOT_FIGURES = frozenset(("as_of", "revision"))


@dataclass(frozen=True, slots=True)
class MovedDish:
    """A dish whose published figures would move. None: it is not on the menu before, or after."""

    code: str
    before: Document | None
    after: Document | None


def moved_dishes(snapshots: Snapshots, position: Position, changes: Sequence[Supposed]) -> list[MovedDish]:
    """Every dish whose published figures would move on the position's day, in the order of the codes."""
    before = snapshots.at(position)
    return moved_between(before, snapshot_under(before, changes))


def snapshot_under(before: Snapshot, changes: Sequence[Supposed]) -> Snapshot:
    """The snapshot of the kitchen as it would be under the changes, on the same day."""
    return Snapshot.of(before.position, kitchen_under(before.recorded, changes), before)


def moved_between(before: Snapshot, after: Snapshot) -> list[MovedDish]:
    """Every dish whose published figures differ, in the order of the codes."""
    rows = {str(row["dish"]): row for row in dish_rows(before)}
    rows_after = {str(row["dish"]): row for row in dish_rows(after)}
    others = (code for code in rows.keys() | rows_after.keys() if rows.get(code) is not rows_after.get(code))
    moved = (MovedDish(code, rows.get(code), rows_after.get(code)) for code in sorted(others))
    return [dish for dish in moved if _figures(dish.before) != _figures(dish.after)]


def _figures(row: Document | None) -> Document | None:
    return None if row is None else {name: value for name, value in row.items() if name not in _NOT_FIGURES}
