"""The ledger itself: revisions, their entries, the head, and what stands beside the chain.

`revision` and `entry` are append-only (triggers, on both engines); a revision continues the one before it. The head is
one row, which every writer locks first; `promised` is the last revision that was inserted, which the head must have
moved to when the transaction commits (PostgreSQL's guards write it as the head moves). Last use of a key and
idempotency rows are off the chain.
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
)

from service.persistence.column_types import Day, Instant, JsonText
from service.persistence.tables.base import Number, flag, metadata


def _hash(name: str) -> list[Column[str] | CheckConstraint]:
    return [Column(name, Text(), nullable=False), CheckConstraint(f"length({name}) = 64", name=name)]


revision = Table(
    "revision", metadata,
    Column("number", Number, nullable=False, autoincrement=False),
    Column("made_at", Instant(), nullable=False),
    Column("on_date", Day(), nullable=False),
    Column("key_id", Text(), nullable=False),
    Column("who", Text(), nullable=False),
    Column("request_id", Text(), nullable=False),
    *flag("moves_figures"),
    *_hash("previous_hash"),
    *_hash("hash"),
    PrimaryKeyConstraint("number"),
    CheckConstraint("number >= 1", name="number"),
    sqlite_strict=True,
)
Index("ix_revision_moves_figures_number", revision.c.moves_figures, revision.c.number)

entry = Table(
    "entry", metadata,
    Column("revision", Number, ForeignKey("revision.number"), nullable=False),
    Column("number", Number, nullable=False),
    Column("action", Text(), nullable=False),
    Column("kind", Text(), nullable=False),
    Column("code", Text(), nullable=False),
    Column("document", Text(), nullable=False),
    PrimaryKeyConstraint("revision", "number"),
    CheckConstraint("number >= 1", name="number"),
    sqlite_strict=True,
)
Index("ix_entry_kind_code_revision", entry.c.kind, entry.c.code, entry.c.revision)

ledger_head = Table(
    "ledger_head", metadata,
    Column("id", Integer(), nullable=False, autoincrement=False),
    Column("revision", Number, nullable=False),
    Column("on_date", Day(), nullable=False),
    *_hash("hash"),
    Column("figures_revision", Number, nullable=False),
    *_hash("figures_hash"),
    Column("promised", Number, ForeignKey("ledger_head.revision", deferrable=True, initially="DEFERRED")),
    PrimaryKeyConstraint("id"),
    CheckConstraint("id = 1", name="one_row"),
    CheckConstraint("figures_revision BETWEEN 0 AND revision", name="figures_revision"),
    sqlite_strict=True,
)
Index("uq_ledger_head_revision", ledger_head.c.revision, unique=True)

signing_secret = Table(
    "signing_secret", metadata,
    Column("id", Integer(), nullable=False, autoincrement=False),
    *_hash("secret"),
    PrimaryKeyConstraint("id"),
    CheckConstraint("id = 1", name="one_row"),
    sqlite_strict=True,
)

access_key = Table(
    "access_key", metadata,
    Column("id", Text(), nullable=False),
    Column("name", Text(), nullable=False),
    Column("scopes", JsonText(), nullable=False),
    *_hash("secret_hash"),
    Column("created_at", Instant(), nullable=False),
    Column("expires_at", Instant()),
    Column("last_used_at", Instant()),
    Column("revoked_at", Instant()),
    Column("made_revision", Number, ForeignKey("revision.number"), nullable=False),
    Column("requests_per_minute", Integer()),
    CheckConstraint("requests_per_minute BETWEEN 1 AND 1000000", name="requests_per_minute"),
    PrimaryKeyConstraint("id"),
    UniqueConstraint("secret_hash"),
    sqlite_strict=True,
)

idempotency = Table(
    "idempotency", metadata,
    Column("key_id", Text(), nullable=False),
    Column("route", Text(), nullable=False),
    Column("key", Text(), nullable=False),
    *_hash("fingerprint"),
    Column("answer", Text(), nullable=False),
    Column("made_at", Instant(), nullable=False),
    PrimaryKeyConstraint("key_id", "route", "key"),
    sqlite_strict=True,
)
Index("ix_idempotency_made_at", idempotency.c.made_at)
