"""Read all that a dish's page shows: its figures, what moved, what is missing, its history, allergens and working."""

from service.domain.allergen_paths import AllergenState
from service.domain.attention import points_between
from service.use_cases.cost_rows import dish_row
from service.use_cases.documents import Document
from service.use_cases.explain_cost import dish_working
from service.use_cases.mend_documents import dish_mends
from service.use_cases.ports import Ledger
from service.use_cases.read_allergens import read_dish_allergens
from service.use_cases.read_cost_history import read_cost_history
from service.use_cases.since_yesterday import missing_in, moved_since, yesterday_of
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots
from service.use_cases.working_outline import working_outline


def read_dish_page(ledger: Ledger, snapshots: Snapshots, snapshot: Snapshot, code: str) -> Document:
    """The document of a dish's page.

    Raises:  NotFound when no such dish stands on the snapshot's day.
    """
    row = dish_row(snapshot, code)
    yesterday = yesterday_of(ledger, snapshots, snapshot)
    off = points_between(row["food_cost_percent"], row["target_food_cost_percent"])
    return {
        "row": row, "off": None if off is None else str(off), "yesterday": yesterday.day,
        "moved": moved_since(row, yesterday), "missing": missing_in(row), "mends": _mends(snapshot, code),
        "history": read_cost_history(snapshot, code), "allergens": _allergens(snapshot, code),
        "working": working_outline(dish_working(snapshot.recorded, snapshot, code))}


def _mends(snapshot: Snapshot, code: str) -> Document | None:
    mends: Document | None = dish_mends(snapshot, code)["mends"]
    return mends


def _allergens(snapshot: Snapshot, code: str) -> Document:
    """What is told of allergens, by what can be said of each."""
    told = read_dish_allergens(snapshot, code)
    return told | {"by_state": {
        state.value: [one for one in told["allergens"] if one["state"] == state] for state in AllergenState}}
