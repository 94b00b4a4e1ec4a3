"""Figures under changed inputs: what every dish costs and earns before and after, with nothing stored.

What a price review and a chef's "what if" both ask.
"""

from collections.abc import Iterable, Sequence
from itertools import compress
from operator import is_not
from typing import NamedTuple

from service.domain.scenario import Supposed, kitchen_under
from service.use_cases.cost_rows import dish_rows_moved, rows_of_today
from service.use_cases.documents import Document
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots

MovedRow = tuple[str, Document | None, Document | None]
_NOT_FIGURES = frozenset(("as_of", "revision"))


class MovedDish(NamedTuple):
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
    rows = rows_of_today(before)
    some = dish_rows_moved(after) if after.stands_on(before) else None
    moved: Iterable[MovedRow] = other_rows(rows, rows_of_today(after), "dish") if some is None else some
    return [MovedDish(code, row, row_after) for code, row, row_after in moved if _differ(row, row_after)]


def other_rows(before: Sequence[Document], after: Sequence[Document], kind: str) -> Iterable[MovedRow]:
    """Of two lists in the order of the codes the rows that are not the very same, by code; None where one has none."""
    if len(before) == len(after):
        places = list(compress(range(len(before)), map(is_not, before, after)))
        if all(before[place][kind] == after[place][kind] for place in places):
            return [(str(before[place][kind]), before[place], after[place]) for place in places]
    rows, rows_after = ({str(row[kind]): row for row in rows} for rows in (before, after))
    return [(code, rows.get(code), rows_after.get(code)) for code in sorted(rows.keys() | rows_after.keys())]


def _differ(before: Document | None, after: Document | None) -> bool:
    """Whether the rows say different things, but for where they stand."""
    if before is None or after is None:
        return before is not after
    if before["food_cost"] != after["food_cost"]:
        return True
    return before.keys() != after.keys() or any(
        after[name] != value for name, value in before.items() if name not in _NOT_FIGURES)
