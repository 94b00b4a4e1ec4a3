"""Feed links: read-only addresses for programs that cannot send a header.

Revision: 0007, after 0006.
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "feed_link",
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("id", "name", "lists")),
        sa.Column("fields", sa.Text()),
        sa.Column("delimiter", sa.Text(), nullable=False),
        sa.Column("decimal_mark", sa.Text(), nullable=False),
        sa.Column("bom", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("token_hash", "made_by")),
        sa.Column("created_at", INSTANT, nullable=False),
        *(sa.Column(name, INSTANT) for name in ("expires_at", "last_used_at", "revoked_at")),
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.ForeignKeyConstraint(["made_revision"], ["revision.number"]),
        sa.UniqueConstraint("token_hash"),
        sa.CheckConstraint("delimiter IN ('comma', 'semicolon', 'tab')", name="delimiter"),
        sa.CheckConstraint("decimal_mark IN ('point', 'comma')", name="decimal_mark"),
        sa.CheckConstraint("bom IN (0, 1)", name="bom"),
        sa.CheckConstraint("length(token_hash) = 64", name="token_hash"),
        sa.CheckConstraint("delimiter <> 'comma' OR decimal_mark <> 'comma'", name="marks_differ"),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("feed_link")
