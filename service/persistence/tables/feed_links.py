"""Feed links: never their tokens, only SHA-256 of them. Made and revoked by entries; the last use is off the chain."""

from sqlalchemy import CheckConstraint, Column, ForeignKey, PrimaryKeyConstraint, Table, Text, UniqueConstraint

from service.persistence.column_types import Instant, JsonText
from service.persistence.tables.base import Number, choice, flag, metadata

feed_link = Table(
    "feed_link", metadata,
    Column("id", Text(), nullable=False),
    Column("name", Text(), nullable=False),
    Column("lists", JsonText(), nullable=False),
    Column("fields", JsonText()),
    *choice("delimiter", ("comma", "semicolon", "tab")),
    *choice("decimal_mark", ("point", "comma")),
    *flag("bom"),
    Column("token_hash", Text(), nullable=False),
    Column("made_by", Text(), nullable=False),
    Column("created_at", Instant(), nullable=False),
    Column("expires_at", Instant()),
    Column("last_used_at", Instant()),
    Column("revoked_at", Instant()),
    Column("made_revision", Number, ForeignKey("revision.number"), nullable=False),
    PrimaryKeyConstraint("id"),
    UniqueConstraint("token_hash"),
    CheckConstraint("length(token_hash) = 64", name="token_hash"),
    CheckConstraint("delimiter <> 'comma' OR decimal_mark <> 'comma'", name="marks_differ"),
    sqlite_strict=True,
)
