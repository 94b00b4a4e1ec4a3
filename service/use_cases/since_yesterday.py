"""What moved since yesterday: each dish's published figures against those of the evening before, and by which causes.

Rules that always hold: it is a function of the position; yesterday's figures are those of the last revision that was
made before the day began (or of the one that is looked at, if that is older).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from service.domain.attention import points_between
from service.domain.change_causes import OF_FIGURES, Cause, causes_by_dish
from service.domain.days_of_change import ONE_DAY
from service.domain.history import Mark
from service.domain.timeline import started_on
from service.use_cases.cause_words import CauseWords
from service.use_cases.cost_rows import rows_of_today
from service.use_cases.documents import Document
from service.use_cases.ports import Ledger
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots

MOST_ENTRIES = 400
"""Of a day on which more was recorded, causes are not told: each would have to be looked for below every dish."""
_COMPARED = ("food_cost", "food_cost_percent", "menu_price", "target_food_cost_percent", "status")


@dataclass(frozen=True, slots=True)
class Yesterday:
    """The evening before: its rows by code, and why those dishes moved that did, in words.

    Shape:   `causes` has a dish that moved, with no words where they are not told.
    """

    day: str
    rows: Mapping[str, Document]
    causes: Mapping[str, list[str]]


def yesterday_of(ledger: Ledger, snapshots: Snapshots, snapshot: Snapshot) -> Yesterday:
    """The evening before a snapshot's day; kept with the snapshot."""
    return snapshot.kept("since yesterday", lambda: _yesterday(ledger, snapshots, snapshot))


def moved_since(row: Document, yesterday: Yesterday) -> Document | None:
    """By what a dish moved since yesterday; None where it did not, or no dish was known then to compare with."""
    code = str(row["dish"])
    if not yesterday.rows:
        return None
    before = yesterday.rows.get(code)
    if before is None:
        return {"new": True, "points": None, "food_cost": None, "causes": []}
    if code not in yesterday.causes:
        return None
    points = points_between(row["food_cost_percent"], before["food_cost_percent"])
    cost = points_between(row["food_cost"], before["food_cost"])
    return {"new": False, "points": str(points) if points else None, "food_cost": str(cost) if cost else None,
            "causes": yesterday.causes[code]}


def missing_in(row: Document) -> list[str]:
    """What a dish lacks for its figures to be complete, each with its mend."""
    if row["status"] == "complete" and row["food_cost_percent"] is None:
        return [finding["detail"] for finding in row["findings"]] or ["It has no menu price: give it one."]
    return [gap["detail"] for gap in row["gaps"]]


def _yesterday(ledger: Ledger, snapshots: Snapshots, snapshot: Snapshot) -> Yesterday:
    position = snapshot.position
    revision = min(position.revision, ledger.figures_before(position.day))
    known, revision_hash = ledger.figures_at(revision)
    before = snapshots.at(Position(known, revision_hash, position.day - ONE_DAY))
    rows = {str(row["dish"]): row for row in rows_of_today(before)}
    moved = [str(row["dish"]) for row in rows_of_today(snapshot) if _differ(rows.get(str(row["dish"])), row)]
    return Yesterday(before.position.day.isoformat(), rows, dict(_told(ledger, before, snapshot, moved)))


def _differ(before: Document | None, after: Document) -> bool:
    return before is not None and any(before[name] != after[name] for name in _COMPARED)


def _told(ledger: Ledger, before: Snapshot, after: Snapshot, moved: list[str]) -> Iterator[tuple[str, list[str]]]:
    first = Mark(before.position.revision + 1, 0)
    entries = ledger.entries(first, MOST_ENTRIES + 1, after.position.revision) if moved else ()
    if len(entries) > MOST_ENTRIES:
        yield from ((dish, []) for dish in moved)
        return
    causes = [*started_on(after.recorded, after.position.day),
              *(Cause(entry.kind, entry.code, entry.action, entry.mark) for entry in entries
                if entry.kind in OF_FIGURES)]
    words = CauseWords(before.kitchen, after.kitchen)
    for dish, why in zip(moved, causes_by_dish(moved, causes, before.kitchen, after.kitchen), strict=True):
        yield dish, words.of(why)
