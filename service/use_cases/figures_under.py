"""Figures under changed inputs: what every dish costs and earns before and after, with nothing stored.

What a price review and a chef's "what if" both ask.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.scenario import Supposed, kitchen_under
from service.use_cases.cost_rows import dish_row
from service.use_cases.documents import Document
from service.use_cases.ports import Ledger
from service.use_cases.snapshots import Position, Snapshot, Snapshots

_NOT_FIGURES = frozenset(("as_of", "revision"))


@dataclass(frozen=True, slots=True)
class MovedDish:
    """A dish whose published figures would move. None: it is not on the menu before, or after."""

    code: str
    before: Document | None
    after: Document | None


def moved_dishes(
    ledger: Ledger, snapshots: Snapshots, position: Position, changes: Sequence[Supposed]
) -> list[MovedDish]:
    """Every dish whose published figures would move on the position's day, in the order of the codes."""
    before = snapshots.at(position)
    kitchen = kitchen_under(ledger.kitchen(position.revision), changes)
    after = Snapshot.of(position, kitchen, before)
    codes = sorted(before.kitchen.dishes.keys() | after.kitchen.dishes.keys())
    moved = (MovedDish(code, _row(before, code), _row(after, code)) for code in codes)
    return [dish for dish in moved if _figures(dish.before) != _figures(dish.after)]


def _row(snapshot: Snapshot, code: str) -> Document | None:
    return dish_row(snapshot, code) if code in snapshot.kitchen.dishes else None


def _figures(row: Document | None) -> Document | None:
    return None if row is None else {name: value for name, value in row.items() if name not in _NOT_FIGURES}
