"""Which releases work on this schema: the oldest migration whose code still does.

From here on each migration says so itself, as `works_from`: expand first (a new column that may be empty, a new table:
code of the migration before goes on working), and contract a release later, when no such code runs any more.

Revision: 0014, after 0013.
"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None
works_from = "0013"


def upgrade() -> None:
    support = op.create_table(
        "schema_support",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("works_from", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.CheckConstraint("id = 1", name="one_row"),
        sqlite_strict=True,
    )
    op.execute(support.insert().values(id=1, works_from=works_from))


def downgrade() -> None:
    op.drop_table("schema_support")
