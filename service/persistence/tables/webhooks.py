"""Webhooks, and beside the chain what they are told: secrets, messages with their deliveries, tries, and the cursor.

`webhook` is in a backup, the others are not: after a restore nothing is sent again, and no secret was in the file. A
webhook without a standing is told nothing until it gets a secret. The cursor is one row, which whoever tells locks.
Tries are counted by what came of them, also those whose log is pruned; the heartbeat is of whoever delivered last.
"""

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from service.domain.webhook import DeliveryState, Ended
from service.persistence.column_types import Day, Instant, JsonText
from service.persistence.tables.base import Number, choice, flag, metadata
from service.use_cases.webhook_sending import Came

_ENDED = ", ".join(f"'{why.value}'" for why in Ended)

webhook = Table(
    "webhook", metadata,
    Column("id", Text(), nullable=False),
    Column("url", Text(), nullable=False),
    Column("events", JsonText(), nullable=False),
    Column("description", Text(), nullable=False),
    *flag("figures"),
    Column("made_at", Instant(), nullable=False),
    Column("made_revision", Number, ForeignKey("revision.number"), nullable=False),
    Column("changed_revision", Number, ForeignKey("revision.number"), nullable=False),
    Column("deleted_revision", Number, ForeignKey("revision.number")),
    Column("ended", Text()),
    PrimaryKeyConstraint("id"),
    CheckConstraint("changed_revision >= made_revision", name="changed_after_made"),
    CheckConstraint(f"ended IN ({_ENDED})", name="ended"),
    sqlite_strict=True,
)

webhook_standing = Table(
    "webhook_standing", metadata,
    Column("webhook_id", Text(), ForeignKey("webhook.id"), nullable=False),
    Column("heard_from_revision", Number, nullable=False),
    Column("heard_from_day", Day(), nullable=False),
    Column("heard_from_proposal", Integer(), nullable=False),
    Column("last_sequence", Number, nullable=False),
    Column("delivered_at", Instant()),
    Column("paused_until", Instant()),
    PrimaryKeyConstraint("webhook_id"),
    CheckConstraint("last_sequence >= 0", name="last_sequence"),
    sqlite_strict=True,
)

webhook_secret = Table(
    "webhook_secret", metadata,
    Column("webhook_id", Text(), ForeignKey("webhook.id"), nullable=False),
    Column("position", Integer(), nullable=False, autoincrement=False),
    Column("secret", Text(), nullable=False),
    Column("made_at", Instant(), nullable=False),
    Column("valid_until", Instant()),
    PrimaryKeyConstraint("webhook_id", "position"),
    CheckConstraint("position >= 1", name="position"),
    sqlite_strict=True,
)

webhook_delivery = Table(
    "webhook_delivery", metadata,
    Column("id", Text(), nullable=False),
    Column("webhook_id", Text(), ForeignKey("webhook.id"), nullable=False),
    Column("sequence", Number, nullable=False),
    Column("event", Text(), nullable=False),
    Column("made_at", Instant(), nullable=False),
    Column("body", Text(), nullable=False),
    *choice("state", tuple(state.value for state in DeliveryState)),
    Column("tries", Integer(), nullable=False),
    Column("claims", Integer(), nullable=False),
    Column("due_at", Instant()),
    PrimaryKeyConstraint("id"),
    UniqueConstraint("webhook_id", "sequence"),
    CheckConstraint("(state = 'waiting' AND due_at IS NOT NULL) OR (state <> 'waiting' AND due_at IS NULL)",
                    name="due_at"),
    sqlite_strict=True,
)
_WAITING = text("state = 'waiting'")
Index("ix_webhook_delivery_due", webhook_delivery.c.webhook_id, webhook_delivery.c.due_at, webhook_delivery.c.sequence,
      sqlite_where=_WAITING, postgresql_where=_WAITING)
Index("ix_webhook_delivery_webhook_id_state_sequence", webhook_delivery.c.webhook_id, webhook_delivery.c.state,
      webhook_delivery.c.sequence)
Index("ix_webhook_delivery_made_at", webhook_delivery.c.made_at)

webhook_attempt = Table(
    "webhook_attempt", metadata,
    Column("delivery_id", Text(), ForeignKey("webhook_delivery.id"), nullable=False),
    Column("number", Integer(), nullable=False, autoincrement=False),
    Column("at", Instant(), nullable=False),
    *choice("came", tuple(came.value for came in Came)),
    Column("status", Integer()),
    PrimaryKeyConstraint("delivery_id", "number"),
    sqlite_strict=True,
)

webhook_cursor = Table(
    "webhook_cursor", metadata,
    Column("id", Integer(), nullable=False, autoincrement=False),
    Column("version", Number, nullable=False),
    Column("revision", Number),
    Column("day", Day()),
    Column("part", Integer(), nullable=False),
    Column("proposal", Integer(), nullable=False),
    PrimaryKeyConstraint("id"),
    CheckConstraint("id = 1", name="one_row"),
    CheckConstraint("(revision IS NULL) = (day IS NULL)", name="place"),
    sqlite_strict=True,
)

webhook_dish_outside = Table(
    "webhook_dish_outside", metadata,
    Column("dish", Text(), nullable=False),
    PrimaryKeyConstraint("dish"),
    sqlite_strict=True,
)

webhook_heartbeat = Table(
    "webhook_heartbeat", metadata,
    Column("id", Integer(), nullable=False, autoincrement=False),
    Column("at", Instant()),
    PrimaryKeyConstraint("id"),
    CheckConstraint("id = 1", name="one_row"),
    sqlite_strict=True,
)

webhook_outcome = Table(
    "webhook_outcome", metadata,
    Column("came", Text(), nullable=False),
    Column("tries", Number, nullable=False),
    PrimaryKeyConstraint("came"),
    CheckConstraint("tries >= 0", name="tries"),
    sqlite_strict=True,
)

NOT_IN_A_BACKUP = (webhook_standing, webhook_secret, webhook_delivery, webhook_attempt, webhook_cursor,
                   webhook_dish_outside, webhook_heartbeat, webhook_outcome)
