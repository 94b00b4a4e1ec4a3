"""Deliveries: claimed by one deliverer for a while, tried, logged, listed, replayed, and pruned in the end.

Rules that always hold: to claim one is to put off when it is due, so that it comes back by itself when whoever had it
is no more; one that was delivered stays so, whoever says otherwise later.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, delete, exists, insert, or_, select, text, update

from service.domain.webhook import DeliveryState
from service.persistence.tables.webhooks import (
    webhook,
    webhook_attempt,
    webhook_delivery,
    webhook_heartbeat,
    webhook_standing,
)
from service.persistence.webhook_reading import ACTIVE, STANDING_OF, hold_standings, valid_secrets
from service.use_cases.webhook_sending import Came
from service.use_cases.webhooks_port import Attempt, Claimed, Delivery, Span, Tried

_D = webhook_delivery.c
_WAITING, _DELIVERED = DeliveryState.WAITING.value, DeliveryState.DELIVERED.value
_UNDELIVERED = (DeliveryState.DEAD.value, DeliveryState.CANCELLED.value)

_COUNT = text("INSERT INTO webhook_outcome (came, tries) VALUES (:came, :tries) "
              "ON CONFLICT (came) DO UPDATE SET tries = webhook_outcome.tries + excluded.tries")
"""Counted beside the log of tries, which is pruned: what only grows can be watched."""


def due(connection: Connection, now: datetime) -> list[str]:
    """Active webhooks that are not spared and have something to be tried."""
    waiting = exists().where(_D.webhook_id == webhook.c.id, _D.state == _WAITING, _D.due_at <= now)
    standing = webhook_standing.c
    return list(connection.scalars(
        select(webhook.c.id).join(webhook_standing, STANDING_OF)
        .where(ACTIVE, or_(standing.paused_until.is_(None), standing.paused_until <= now), waiting)
        .order_by(webhook.c.id)))


def claim(connection: Connection, webhook_id: str, limit: int, now: datetime, until: datetime) -> list[Claimed]:
    """Take deliveries that are due and that nobody else is just taking."""
    rows = connection.execute(
        select(_D.id, _D.body, _D.tries, _D.claims, webhook.c.url)
        .join(webhook, webhook.c.id == _D.webhook_id)
        .where(_D.webhook_id == webhook_id, _D.state == _WAITING, _D.due_at <= now, ACTIVE)
        .order_by(_D.due_at, _D.sequence).limit(limit)
        .with_for_update(skip_locked=True, of=webhook_delivery)).all()
    secrets = valid_secrets(connection, webhook_id, now)
    for row in rows:
        connection.execute(update(webhook_delivery).where(_D.id == row.id).values(
            due_at=until, claims=row.claims + 1))
    return [Claimed(row.id, webhook_id, row.url, row.body, row.tries, row.claims + 1, secrets) for row in rows]


def record(connection: Connection, tried: Sequence[Tried]) -> None:
    """Log tries, and say where their deliveries stand; of a message that was removed meanwhile there is nothing to
    say."""
    hold_standings(connection, {one.claimed.webhook for one in tried})
    came: Counter[str] = Counter()
    for one in sorted(tried, key=lambda each: each.claimed.id):
        known = _D.id == one.claimed.id
        if connection.scalar(select(_D.id).where(known).with_for_update()) is None:
            continue
        came[one.came.value] += _log(connection, one)
        if one.state is DeliveryState.DELIVERED:
            connection.execute(update(webhook_delivery).where(known, _D.state != _DELIVERED).values(
                state=_DELIVERED, due_at=None, tries=one.claimed.tries + 1))
        else:
            connection.execute(
                update(webhook_delivery).where(known, _D.state == _WAITING, _D.claims == one.claimed.claim)
                .values(state=one.state.value, due_at=one.due_at, tries=one.claimed.tries + 1))
        _note(connection, one)
    for name in sorted(came):
        connection.execute(_COUNT, {"came": name, "tries": came[name]})


def _log(connection: Connection, one: Tried) -> bool:
    """Once: a record that was not acknowledged is made again. Whether it was."""
    columns, claimed = webhook_attempt.c, one.claimed
    if connection.scalar(select(exists().where(
            columns.delivery_id == claimed.id, columns.number == claimed.claim))):
        return False
    connection.execute(insert(webhook_attempt), {
        "delivery_id": claimed.id, "number": claimed.claim, "at": one.at, "came": one.came.value,
        "status": one.status})
    return True


def beat(connection: Connection, at: datetime) -> None:
    """Note that a deliverer is at work."""
    connection.execute(update(webhook_heartbeat).values(at=at))


def _note(connection: Connection, one: Tried) -> None:
    noted: dict[str, Any] = {}
    if one.state is DeliveryState.DELIVERED:
        noted["delivered_at"] = one.at
    if one.paused_until is not None:
        noted["paused_until"] = one.paused_until
    if noted:
        connection.execute(update(webhook_standing).where(
            webhook_standing.c.webhook_id == one.claimed.webhook).values(noted))


def failing(connection: Connection, webhook_id: str, delivery_id: str) -> bool:
    """Whether nothing was delivered to a webhook since this message was made."""
    made = select(_D.made_at).where(_D.id == delivery_id).scalar_subquery()
    return not connection.scalar(select(exists().where(
        webhook_standing.c.webhook_id == webhook_id, webhook_standing.c.delivered_at >= made)))


def deliveries(connection: Connection, webhook_id: str, before: int | None, limit: int, state: str | None
               ) -> tuple[Delivery, ...]:
    """A page of deliveries, the newest first."""
    asked = _asked().where(_D.webhook_id == webhook_id).order_by(_D.sequence.desc()).limit(limit)
    asked = asked if before is None else asked.where(_D.sequence < before)
    asked = asked if state is None else asked.where(_D.state == state)
    return tuple(_delivery(row) for row in connection.execute(asked))


def delivery(connection: Connection, webhook_id: str, delivery_id: str) -> Delivery | None:
    """One delivery with its attempts."""
    row = connection.execute(_asked().where(_D.webhook_id == webhook_id, _D.id == delivery_id)).one_or_none()
    if row is None:
        return None
    columns = webhook_attempt.c
    rows = connection.execute(
        select(columns.number, columns.at, columns.came, columns.status)
        .where(columns.delivery_id == delivery_id).order_by(columns.number))
    return _delivery(row, tuple(Attempt(each.number, each.at, Came(each.came), each.status) for each in rows))


def replay(connection: Connection, webhook_id: str, delivery_id: str, now: datetime) -> None:
    """Have a message delivered again, unless it waits already. A try from before that fails late says no more."""
    hold_standings(connection, (webhook_id,))
    connection.execute(
        update(webhook_delivery).where(_D.webhook_id == webhook_id, _D.id == delivery_id, _D.state != _WAITING)
        .values(**_anew(now)))


def replay_span(connection: Connection, webhook_id: str, span: Span, now: datetime) -> int:
    """Have all of a span delivered again that do not wait already."""
    hold_standings(connection, (webhook_id,))
    states = _UNDELIVERED if span.undelivered_only else (*_UNDELIVERED, _DELIVERED)
    return connection.execute(
        update(webhook_delivery).where(_D.webhook_id == webhook_id, _D.state.in_(states), *_bounds(span))
        .values(**_anew(now))).rowcount


def _anew(now: datetime) -> dict[str, Any]:
    return {"state": _WAITING, "due_at": now, "tries": 0, "claims": _D.claims + 1}


def _bounds(span: Span) -> Iterator[ColumnElement[bool]]:
    if span.first is not None:
        yield _D.sequence >= span.first
    if span.last is not None:
        yield _D.sequence <= span.last
    if span.since is not None:
        yield _D.made_at >= span.since
    if span.until is not None:
        yield _D.made_at <= span.until


def prune(connection: Connection, before: datetime, limit: int) -> int:
    """Remove old messages that wait for nothing."""
    old = list(connection.scalars(
        select(_D.id).where(_D.made_at < before, _D.state != _WAITING).order_by(_D.made_at).limit(limit)))
    if old:
        connection.execute(delete(webhook_attempt).where(webhook_attempt.c.delivery_id.in_(old)))
        connection.execute(delete(webhook_delivery).where(_D.id.in_(old)))
    return len(old)


def _asked() -> Select[Any]:
    return select(_D.id, _D.sequence, _D.event, _D.made_at, _D.state, _D.tries, _D.due_at)


def _delivery(row: Any, attempts: tuple[Attempt, ...] = ()) -> Delivery:
    return Delivery(row.id, row.sequence, row.event, row.made_at, DeliveryState(row.state), row.tries, row.due_at,
                    attempts)
