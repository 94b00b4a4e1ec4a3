"""Margin alerts, what was noted of them, and webhooks, held to what they follow from.

Of an alert everything follows from the ledger: its number, its id, which one it closes, and whether it is open. Here
they are held to each other; to the figures of their places `verify_figures` holds the newest.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, func, select

from service.domain.target_crossing import Crossing
from service.domain.timeline import MovedBy, Place
from service.persistence.astray import Astray, compared
from service.persistence.rows_with_entries import streamed, with_entries
from service.persistence.tables import chain
from service.persistence.tables.margin_alerts import (
    margin_alert,
    margin_alert_acknowledgement,
    margin_alert_cursor,
)
from service.persistence.tables.webhooks import webhook
from service.use_cases.raise_margin_alerts import alert_id
from service.use_cases.webhook_documents import origin_of

KIND = "margin_alert"


def alerts_astray(connection: Connection) -> Iterator[Astray]:
    """Alerts that do not follow from each other, and a walk that does not stand where they end."""
    walk, alert = _Walk(), margin_alert.c
    for row in streamed(connection, select(margin_alert).order_by(alert.number)):
        for wrong in walk.wrong_with(row):
            yield Astray(row.revision, KIND, row.dish, f"alert {row.number} {wrong}")
    still = set(walk.outside.values())
    for row in streamed(connection, select(alert.number, alert.dish, alert.revision, alert.open)):
        if row.open != (row.number in still):
            yield Astray(row.revision, KIND, row.dish, f"alert {row.number} is {'' if row.open else 'not '}marked open")
    cursor = connection.execute(select(margin_alert_cursor)).one_or_none()
    number, reached = (0, None) if cursor is None else (cursor.last_number, _place(cursor))
    if number != walk.number or (walk.place is not None and (reached is None or reached < walk.place)):
        yield Astray(0, KIND, "", f"the walk says that alert {number} was the last, at {reached}; alert {walk.number} "
                     f"is, at {walk.place}")


@dataclass
class _Walk:
    """The alerts up to one: the last one's number and place, and the open alert of each dish that is outside."""

    number: int = 0
    place: Place | None = None
    outside: dict[str, int] = field(default_factory=dict)

    def wrong_with(self, row: Any) -> Iterator[str]:
        """What is wrong with the next one, which is taken as it is."""
        place, opens, open_one = _place(row), row.crossed == Crossing.OUTSIDE.value, self.outside.pop(row.dish, None)
        if row.number != self.number + 1:
            yield f"follows alert {self.number}"
        if place is None or row.id != alert_id(place, MovedBy(row.moved_by), row.dish):
            yield "has an id that is not that of its place and dish"
        if self.place is not None and (place is None or place < self.place):
            yield "is of a place before that of the alert before"
        if row.closes != (None if opens else open_one) or (opens and open_one is not None):
            yield f"says {row.crossed} and closes {row.closes or 'none'}, where {open_one or 'none'} is open"
        if opens:
            self.outside[row.dish] = row.number
        self.number, self.place = row.number, place


def _place(row: Any) -> Place | None:
    return None if row.revision is None else Place(row.revision, row.day)


def acknowledgements_astray(connection: Connection) -> Iterator[Astray]:
    """What was noted of alerts, held to the entries that say so."""
    for row in with_entries(connection, margin_alert_acknowledgement):
        document = row.document if row.kind_of_entry == KIND else None
        yield from compared(row.made_revision, KIND, row.alert_id, document, {"id": row.alert_id, "note": row.note})


def webhooks_astray(connection: Connection) -> Iterator[Astray]:
    """Webhooks, held to the entry that changed each last; of one that was deleted, to the one before."""
    entry, later = chain.entry.c, chain.entry.alias("later").c
    last = select(func.max(later.revision)).where(
        later.kind == "webhook", later.code == webhook.c.id, later.action != "delete_webhook").scalar_subquery()
    deleted = select(func.max(later.revision)).where(
        later.kind == "webhook", later.code == webhook.c.id, later.action == "delete_webhook").scalar_subquery()
    asked = select(webhook, entry.document, last.label("last"), deleted.label("deleted")).outerjoin_from(
        webhook, chain.entry, (entry.kind == "webhook") & (entry.code == webhook.c.id) & (entry.revision == last)
        & (entry.action != "delete_webhook"))
    for row in streamed(connection, asked.order_by(webhook.c.id)):
        yield from compared(row.made_revision, "webhook", row.id, row.document, {
            name: getattr(row, name) for name in ("id", "events", "description", "figures", "ended")}
            | {"receiver": origin_of(row.url)})
        if (row.deleted_revision, row.changed_revision) != (row.deleted, row.deleted or row.last):
            yield Astray(row.made_revision, "webhook", row.id, "its row and its entries differ in when it was changed "
                         "or deleted")
