"""Margin alerts: crossings of a target, how far the timeline was walked for them, and who took note of one.

What was raised follows from the ledger and never changes again, but for `open`, which ends once. It is in a backup all
the same: walking years of a timeline anew takes long. Acknowledgements name an alert by its id, which follows from the
ledger too.
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

from service.domain.target_crossing import Crossing
from service.domain.timeline import MovedBy
from service.persistence.column_types import Day, JsonText
from service.persistence.tables.base import Number, choice, flag, made_by_entry, metadata

margin_alert = Table(
    "margin_alert", metadata,
    Column("number", Number, nullable=False, autoincrement=False),
    Column("id", Text(), nullable=False),
    Column("dish", Text(), nullable=False),
    Column("section", Text(), nullable=False),
    *choice("crossed", tuple(crossing.value for crossing in Crossing)),
    Column("revision", Number, ForeignKey("revision.number"), nullable=False),
    Column("day", Day(), nullable=False),
    *choice("moved_by", (MovedBy.REVISION.value, MovedBy.DATE.value)),
    Column("closes", Number, ForeignKey("margin_alert.number")),
    *flag("open"),
    Column("told", JsonText(), nullable=False),
    PrimaryKeyConstraint("number"),
    UniqueConstraint("id"),
    UniqueConstraint("closes"),
    CheckConstraint("(crossed = 'outside') = (closes IS NULL)", name="closes"),
    CheckConstraint("open = 0 OR crossed = 'outside'", name="open_outside"),
    sqlite_strict=True,
)
_OPEN = text("open = 1")
Index("uq_margin_alert_open", margin_alert.c.dish, unique=True, sqlite_where=_OPEN, postgresql_where=_OPEN)
Index("ix_margin_alert_dish_number", margin_alert.c.dish, margin_alert.c.number)

margin_alert_cursor = Table(
    "margin_alert_cursor", metadata,
    Column("id", Integer(), nullable=False, autoincrement=False),
    Column("version", Number, nullable=False),
    Column("revision", Number),
    Column("day", Day()),
    Column("last_number", Number, nullable=False),
    PrimaryKeyConstraint("id"),
    CheckConstraint("id = 1", name="one_row"),
    CheckConstraint("(revision IS NULL) = (day IS NULL)", name="place"),
    sqlite_strict=True,
)

margin_alert_acknowledgement = Table(
    "margin_alert_acknowledgement", metadata,
    *made_by_entry(),
    Column("alert_id", Text(), nullable=False),
    Column("note", Text(), nullable=False),
    PrimaryKeyConstraint("made_revision", "made_entry"),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
Index("ix_margin_alert_acknowledgement_alert_id", margin_alert_acknowledgement.c.alert_id)
