"""Sales: what the POS sold, per business date.

Revision: 0008, after 0007.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
LARGEST = 10**18 - 1


def upgrade() -> None:
    op.create_table(
        "sales_day",
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.Column("made_entry", NUMBER, nullable=False),
        sa.Column("business_date", DAY, nullable=False),
        sa.Column("replaced_revision", NUMBER),
        sa.PrimaryKeyConstraint("made_revision", "made_entry"),
        sa.ForeignKeyConstraint(["made_revision", "made_entry"], ["entry.revision", "entry.number"]),
        sa.ForeignKeyConstraint(["replaced_revision"], ["revision.number"]),
        sa.CheckConstraint("replaced_revision > made_revision", name="replaced_after_made"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_index("ix_sales_day_business_date", "sales_day", ["business_date"])
    standing = sa.text("replaced_revision IS NULL")
    op.create_index("uq_sales_day_standing", "sales_day", ["business_date"], unique=True, sqlite_where=standing,
                    postgresql_where=standing)
    _make_lines()


def downgrade() -> None:
    for name in ("sales_line", "sales_day"):
        op.drop_table(name)


def _amount(name: str) -> list[SchemaItem]:
    check = sa.CheckConstraint(f"{name} BETWEEN {-LARGEST} AND {LARGEST}", name=name)
    return [sa.Column(name, NUMBER, nullable=False), check]


def _make_lines() -> None:
    op.create_table(
        "sales_line",
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.Column("made_entry", NUMBER, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("pos_code", sa.Text(), nullable=False),
        *_amount("quantity"),
        *_amount("net_takings"),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("made_revision", "made_entry", "position"),
        sa.ForeignKeyConstraint(["made_revision", "made_entry"], ["sales_day.made_revision", "sales_day.made_entry"]),
        sa.CheckConstraint("position >= 1", name="position"),
        sa.CheckConstraint("kind IN ('sale', 'comp', 'staff_meal')", name="kind"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
