"""Reading webhooks and their secrets; and holding on to where they stand."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, select

from service.domain.timeline import Place
from service.domain.webhook import Ended, HeardFrom, Secret, Webhook
from service.persistence.tables.webhooks import webhook, webhook_secret, webhook_standing

STANDING_OF = webhook_standing.c.webhook_id == webhook.c.id
ACTIVE = webhook.c.ended.is_(None) & webhook.c.deleted_revision.is_(None)
"""Beside having a standing."""


def every_webhook(connection: Connection) -> tuple[Webhook, ...]:
    """Every webhook that was not deleted, in the order of making."""
    rows = connection.execute(_asked().order_by(webhook.c.made_revision, webhook.c.id))
    return tuple(_webhook(row) for row in rows)


def one_webhook(connection: Connection, webhook_id: str) -> Webhook | None:
    """One webhook, unless it was deleted."""
    row = connection.execute(_asked().where(webhook.c.id == webhook_id)).one_or_none()
    return None if row is None else _webhook(row)


def active_revisions(connection: Connection) -> dict[str, int]:
    """The revisions at which the active webhooks are."""
    asked = select(webhook.c.id, webhook.c.changed_revision).join(webhook_standing, STANDING_OF).where(ACTIVE)
    return {row.id: row.changed_revision for row in connection.execute(asked)}


def hold_standings(connection: Connection, webhook_ids: Collection[str]) -> None:
    """Lock the standings of some webhooks until the transaction ends.

    Whoever changes deliveries that are there does this first, in the order of the ids: so nobody waits in a ring.
    """
    columns = webhook_standing.c
    connection.execute(select(columns.webhook_id).where(columns.webhook_id.in_(webhook_ids))
                       .order_by(columns.webhook_id).with_for_update()).all()


def secrets_of(connection: Connection, webhook_id: str) -> tuple[Secret, ...]:
    """The secrets of a webhook, the oldest first."""
    columns = webhook_secret.c
    rows = connection.execute(
        select(columns.secret, columns.made_at, columns.valid_until)
        .where(columns.webhook_id == webhook_id).order_by(columns.position))
    return tuple(Secret(row.secret, row.made_at, row.valid_until) for row in rows)


def valid_secrets(connection: Connection, webhook_id: str, now: datetime) -> tuple[str, ...]:
    """What a message is signed with just now: the secret in use first."""
    kept = reversed(secrets_of(connection, webhook_id))
    return tuple(secret.text for secret in kept if secret.valid_until is None or secret.valid_until > now)


def _asked() -> Select[Any]:
    return (
        select(webhook, webhook_standing.c.heard_from_revision, webhook_standing.c.heard_from_day,
               webhook_standing.c.heard_from_proposal)
        .join(webhook_standing, STANDING_OF, isouter=True)
        .where(webhook.c.deleted_revision.is_(None)))


def _webhook(row: Any) -> Webhook:
    heard_from = None
    if row.heard_from_revision is not None:
        heard_from = HeardFrom(Place(row.heard_from_revision, row.heard_from_day), row.heard_from_proposal)
    return Webhook(row.id, row.url, tuple(row.events), row.description, row.figures, row.made_at, row.changed_revision,
                   None if row.ended is None else Ended(row.ended), heard_from)
