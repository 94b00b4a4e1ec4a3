"""The deliverer's heartbeat, and its tries counted by what came of them.

Revision: 0015, after 0014. Additive: a release from before works on with it.
"""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None
works_from = "0014"

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    heartbeat = op.create_table(
        "webhook_heartbeat",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("at", sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")),
        sa.PrimaryKeyConstraint("id"),
        sa.CheckConstraint("id = 1", name="one_row"),
        sqlite_strict=True,
    )
    op.bulk_insert(heartbeat, [{"id": 1, "at": None}])
    op.create_table(
        "webhook_outcome",
        sa.Column("came", sa.Text(), nullable=False),
        sa.Column("tries", NUMBER, nullable=False),
        sa.PrimaryKeyConstraint("came"),
        sa.CheckConstraint("tries >= 0", name="tries"),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("webhook_outcome")
    op.drop_table("webhook_heartbeat")
