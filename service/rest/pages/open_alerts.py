"""The open margin alerts that a page shows: those of now, on a page of now alone."""

from collections.abc import Mapping

from service.rest.api_keys import caller
from service.rest.pages.frame import Asked
from service.rest.position import Positions
from service.use_cases.documents import Document
from service.use_cases.raise_margin_alerts import MarginWatch
from service.use_cases.read_margin_alerts import open_margin_alerts


def open_alerts(asked: Asked, positions: Positions, watch: MarginWatch) -> Mapping[str, Document]:
    """The open alert of each dish that is outside its target; none on a page of another day, nor on one that names what
    was known when: that never changes again."""
    head, position = caller().head, asked.snapshot.position
    today = positions.ledger.today_at(head)
    if "known_at" in asked.query or (position.revision, position.day) != (head.figures_revision, today):
        return {}
    return open_margin_alerts(positions.ledger, watch, head, today)
