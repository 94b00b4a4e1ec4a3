"""Read a cutting sheet: what a piece gives when it is broken down, what each part costs, what it is good for."""

from service.domain.cutting_sheet import cutting_sheet
from service.domain.errors import NotFound
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


def read_cutting_sheet(snapshot: Snapshot, breakdown: str) -> Document:
    """The sheet of a breakdown, in use or not, on the snapshot's day.

    Raises:  NotFound when no such breakdown stands that day.
    """
    if breakdown not in snapshot.kitchen.breakdowns:
        raise NotFound(f"There is no breakdown {breakdown!r} on {snapshot.position.day}.")
    sheet = cutting_sheet(breakdown, snapshot.kitchen, snapshot.costing)
    return {"as_of": snapshot.position.day.isoformat(), "revision": snapshot.position.revision} | sheet.as_published()
