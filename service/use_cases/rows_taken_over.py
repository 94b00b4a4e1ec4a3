"""Which dishes' rows have to be made anew: those that something moved since the snapshot before; the others are taken
over from it as they were.

Rules that always hold: a row that is taken over equals the one that would be made, but for where it stands; a dish with
something missing is always told anew, since what it last cost rests on other days too.
"""

from collections.abc import Sequence

from service.domain.dishes_moved import places_moved, places_unknown
from service.domain.published_menu import PublishedDishes
from service.domain.very_same import others
from service.use_cases.documents import Document
from service.use_cases.snapshots import Earlier, Snapshot


def rows_before(snapshot: Snapshot, name: object) -> tuple[list[Document], Sequence[int]] | None:
    """The rows that the snapshot before had under this name, where they stand now, and the places of those to be made
    anew; None where all have to be."""
    earlier = snapshot.earlier
    rows: list[Document] | None = None if earlier is None else earlier.kept.get(name)
    if earlier is None or rows is None or earlier.kitchen.settings != snapshot.kitchen.settings:
        return None
    moved = _moved(snapshot, earlier)
    if moved is None:
        return None
    here = {"as_of": snapshot.position.day.isoformat(), "revision": snapshot.position.revision}
    if any(rows[0][name] != told for name, told in here.items()):
        rows = [{**row, **here} for row in rows]
    return list(rows), sorted(moved)


def _moved(snapshot: Snapshot, earlier: Earlier) -> set[int] | None:
    before: PublishedDishes | None = earlier.kept.get("columns")
    after = snapshot.columns()
    allergens = earlier.kept.get("allergens")
    if allergens is None or allergens is not snapshot.kept_already("allergens"):
        return None
    if before is None or before.codes != after.codes or not after.codes:
        return None
    changed = set(others(earlier.kitchen.dishes, snapshot.kitchen.dishes))
    places = (place for place, code in enumerate(after.codes) if code in changed) if changed else ()
    return {*places_moved(before, after), *places_unknown(after), *places}
