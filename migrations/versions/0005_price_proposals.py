"""Price proposals: suppliers' files as drafts, what their rows say, and how each supplier's tables are read.

Prices that are withdrawn get an index: after a long list, a kitchen in memory reads what is new instead of everything.

Revision: 0005, after 0004.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
INSTANT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    _make_proposals()
    _make_parts()
    op.create_table(
        "price_list_layout",
        sa.Column("supplier_id", sa.Integer(), nullable=False, autoincrement=False),
        _text("layout"),
        sa.PrimaryKeyConstraint("supplier_id"),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"]),
        sqlite_strict=True,
    )
    withdrawn = sa.text("withdrawn_revision IS NOT NULL")
    op.create_index("ix_price_withdrawn_revision", "price", ["withdrawn_revision"], sqlite_where=withdrawn,
                    postgresql_where=withdrawn)


def downgrade() -> None:
    op.drop_index("ix_price_withdrawn_revision", "price")
    for name in ("price_list_layout", "price_proposal_part", "price_proposal"):
        op.drop_table(name)


def _text(name: str) -> SchemaItem:
    return sa.Column(name, sa.Text(), nullable=False)


def _flag(name: str) -> list[SchemaItem]:
    return [sa.Column(name, sa.Integer(), nullable=False), sa.CheckConstraint(f"{name} IN (0, 1)", name=name)]


def _make_proposals() -> None:
    op.create_table(
        "price_proposal",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        _text("state"),
        sa.Column("effective_from", DAY),
        *_flag("spread_charges"),
        _text("file_name"),
        _text("file_hash"),
        sa.Column("made_at", INSTANT, nullable=False),
        _text("key_id"),
        _text("who"),
        sa.Column("base_revision", NUMBER, nullable=False),
        sa.Column("looks", sa.Integer(), nullable=False),
        sa.Column("row_count", sa.Integer(), nullable=False),
        *_flag("complete"),
        _text("said"),
        sa.Column("ended", sa.Text()),
        sa.PrimaryKeyConstraint("id"),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"]),
        sa.CheckConstraint("state IN ('open', 'accepted', 'rejected')", name="state"),
        sa.CheckConstraint("id >= 1", name="id"),
        sa.CheckConstraint("length(file_hash) = 64", name="file_hash"),
        sa.CheckConstraint("base_revision >= 0", name="base_revision"),
        sa.CheckConstraint("looks >= 1", name="looks"),
        sa.CheckConstraint("row_count >= 0", name="row_count"),
        sa.CheckConstraint(
            "(state = 'open' AND ended IS NULL) OR (state <> 'open' AND ended IS NOT NULL)", name="ended"),
        sqlite_strict=True,
    )
    op.create_index("ix_price_proposal_supplier_id_file_hash", "price_proposal", ["supplier_id", "file_hash"])


def _make_parts() -> None:
    op.create_table(
        "price_proposal_part",
        sa.Column("proposal_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False, autoincrement=False),
        _text("rows"),
        sa.PrimaryKeyConstraint("proposal_id", "position"),
        sa.ForeignKeyConstraint(["proposal_id"], ["price_proposal.id"]),
        sa.CheckConstraint("position >= 1", name="position"),
        sqlite_strict=True,
    )
