"""How far the timeline was told, and the messages that were told of it.

Rules that always hold: the cursor moves in the transaction that stores what was told, so that of several deliverers one
tells and the others look again; the numbers of a webhook's messages have no gap.
"""

from collections.abc import Collection, Iterator, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from service.domain.timeline import Place
from service.domain.webhook import DeliveryState
from service.persistence.tables.webhooks import (
    webhook_cursor,
    webhook_delivery,
    webhook_dish_outside,
    webhook_standing,
)
from service.persistence.webhook_reading import active_revisions, hold_standings
from service.use_cases.webhooks_port import Cursor, Message, Told

_AT_ONCE = 500


def cursor_of(connection: Connection) -> Cursor:
    """How far the timeline was told."""
    row = connection.execute(select(webhook_cursor)).one()
    place = None if row.revision is None else Place(row.revision, row.day)
    outside = frozenset(connection.scalars(select(webhook_dish_outside.c.dish)))
    return Cursor(row.version, place, row.part, row.proposal, outside)


def tell(connection: Connection, cursor: Cursor, told: Told, now: datetime) -> bool:
    """Store messages and move the cursor; False, and nothing, where it or a webhook is not as it was seen."""
    seen = connection.scalar(select(webhook_cursor.c.version).with_for_update())
    hold_standings(connection, told.webhooks)  # from here on none of them ends before these messages wait for it
    if seen != cursor.version or active_revisions(connection) != dict(told.webhooks):
        return False
    store_messages(connection, told.messages, now)
    _note_outside(connection, cursor, told)
    place = told.place
    connection.execute(update(webhook_cursor).values(
        version=cursor.version + 1, revision=place and place.revision, day=place and place.day, part=told.part,
        proposal=told.proposal))
    return True


def store_messages(connection: Connection, messages: Sequence[Message], now: datetime) -> None:
    """Store messages to be sent at once, each with the next number of its webhook."""
    for webhook_id in sorted({message.webhook for message in messages}):
        own = [message for message in messages if message.webhook == webhook_id]
        columns = webhook_standing.c
        last: int = connection.execute(
            update(webhook_standing).where(columns.webhook_id == webhook_id)
            .values(last_sequence=columns.last_sequence + len(own)).returning(columns.last_sequence)).scalar_one()
        connection.execute(insert(webhook_delivery), [
            _row(message, sequence, now) for sequence, message in enumerate(own, start=last - len(own) + 1)])


def _row(message: Message, sequence: int, now: datetime) -> dict[str, Any]:
    return {"id": message.id, "webhook_id": message.webhook, "sequence": sequence, "event": message.event,
            "made_at": now, "body": message.body(sequence), "state": DeliveryState.WAITING.value, "tries": 0,
            "claims": 0, "due_at": now}


def _note_outside(connection: Connection, cursor: Cursor, told: Told) -> None:
    if told.place is None:
        connection.execute(delete(webhook_dish_outside))
        return
    for dishes in _parts(sorted(cursor.outside & set(told.came_back))):
        connection.execute(delete(webhook_dish_outside).where(webhook_dish_outside.c.dish.in_(dishes)))
    for dishes in _parts(sorted(set(told.left_target) - cursor.outside)):
        connection.execute(insert(webhook_dish_outside), [{"dish": dish} for dish in dishes])


def _parts(dishes: Sequence[str]) -> Iterator[Collection[str]]:
    return (dishes[start:start + _AT_ONCE] for start in range(0, len(dishes), _AT_ONCE))
