"""Read the board: every dish with its costs, what needs attention first."""

from service.use_cases.cost_rows import dish_rows
from service.use_cases.documents import Document
from service.use_cases.snapshots import Snapshot


def read_board(snapshot: Snapshot) -> Document:
    """The board of a snapshot."""
    return {"dishes": dish_rows(snapshot), "currency": snapshot.kitchen.settings.currency}
