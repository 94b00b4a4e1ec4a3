"""Allowances: how many requests a minute a key may make, and what workers have leased of it.

Keys that are there keep the allowance of the setting: they have none of their own.

Revision: 0006, after 0005.
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
OWN = "requests_per_minute"


def upgrade() -> None:
    op.execute(f"ALTER TABLE access_key ADD COLUMN {OWN} INTEGER "
               f"CONSTRAINT ck_access_key_{OWN} CHECK ({OWN} BETWEEN 1 AND 1000000)")
    op.create_table(
        "allowance",
        sa.Column("starts", NUMBER, nullable=False, autoincrement=False),
        sa.Column("holder", sa.Text(), nullable=False),
        sa.Column("booked", NUMBER, nullable=False),
        sa.PrimaryKeyConstraint("starts", "holder"),
        sa.CheckConstraint("booked >= 0", name="booked"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    op.drop_table("allowance")
    op.execute(f"ALTER TABLE access_key DROP COLUMN {OWN}")
