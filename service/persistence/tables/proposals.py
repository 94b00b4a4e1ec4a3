"""Price proposals: a supplier's file as a draft, and how it ended. They stand beside the chain and take no revision.

A proposal that was accepted or rejected is never changed again. What its file says is kept as text, at most a thousand
rows to a part.
"""

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, Integer, PrimaryKeyConstraint, Table, Text

from service.domain.price_proposal import ProposalState
from service.persistence.column_types import Day, Instant, JsonText
from service.persistence.tables.base import Number, choice, flag, metadata, reference

price_proposal = Table(
    "price_proposal", metadata,
    Column("id", Integer(), nullable=False, autoincrement=False),
    reference("supplier_id", "supplier"),
    *choice("state", tuple(state.value for state in ProposalState)),
    Column("effective_from", Day()),
    *flag("spread_charges"),
    Column("file_name", Text(), nullable=False),
    Column("file_hash", Text(), nullable=False),
    Column("made_at", Instant(), nullable=False),
    Column("key_id", Text(), nullable=False),
    Column("who", Text(), nullable=False),
    Column("base_revision", Number, nullable=False),
    Column("looks", Integer(), nullable=False),
    Column("row_count", Integer(), nullable=False),
    *flag("complete"),
    Column("said", JsonText(), nullable=False),
    Column("ended", JsonText()),
    PrimaryKeyConstraint("id"),
    CheckConstraint("id >= 1", name="id"),
    CheckConstraint("length(file_hash) = 64", name="file_hash"),
    CheckConstraint("base_revision >= 0", name="base_revision"),
    CheckConstraint("looks >= 1", name="looks"),
    CheckConstraint("row_count >= 0", name="row_count"),
    CheckConstraint("(state = 'open' AND ended IS NULL) OR (state <> 'open' AND ended IS NOT NULL)", name="ended"),
    sqlite_strict=True,
)
Index("ix_price_proposal_supplier_id_file_hash", price_proposal.c.supplier_id, price_proposal.c.file_hash)

price_proposal_part = Table(
    "price_proposal_part", metadata,
    Column("proposal_id", Integer(), ForeignKey("price_proposal.id"), nullable=False),
    Column("position", Integer(), nullable=False, autoincrement=False),
    Column("rows", Text(), nullable=False),
    PrimaryKeyConstraint("proposal_id", "position"),
    CheckConstraint("position >= 1", name="position"),
    sqlite_strict=True,
)

price_list_layout = Table(
    "price_list_layout", metadata,
    Column("supplier_id", Integer(), ForeignKey("supplier.id"), nullable=False, autoincrement=False),
    Column("layout", JsonText(), nullable=False),
    PrimaryKeyConstraint("supplier_id"),
    sqlite_strict=True,
)
