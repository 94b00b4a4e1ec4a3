"""Which dishes' rows have to be made anew: those that a change can have moved since the snapshot before; the others are
taken over from it as they were.

Rules that always hold: a row that is taken over equals the one that would be made, but for where it stands.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.published_above import MovedDishes
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class RowsBefore:
    """The rows that the snapshot before had, and what may be told otherwise now."""

    rows: Sequence[Document]
    moved: MovedDishes

    def all_now(self, snapshot: Snapshot) -> list[Document]:
        """Every row as it stands now, but for those that may have moved."""
        here = {"as_of": snapshot.position.day.isoformat(), "revision": snapshot.position.revision}
        rows = list(self.rows)
        if rows and any(rows[0][name] != told for name, told in here.items()):
            rows = [{**row, **here} for row in rows]
        return rows


def rows_before(snapshot: Snapshot, name: object) -> RowsBefore | None:
    """The rows that the snapshot before had under this name; None where all have to be made anew."""
    earlier = snapshot.earlier
    rows: list[Document] | None = None if earlier is None else earlier.kept.get(name)
    if earlier is None or rows is None or not _says_the_same_of_uses(snapshot):
        return None
    moved = snapshot.moved()
    return None if moved is None else RowsBefore(rows, moved)


def _says_the_same_of_uses(snapshot: Snapshot) -> bool:
    earlier = snapshot.earlier
    allergens = None if earlier is None else earlier.kept.get("allergens")
    return allergens is not None and allergens is snapshot.kept_already("allergens")
