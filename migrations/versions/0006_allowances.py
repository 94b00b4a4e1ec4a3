"""Allowances: how many requests a minute a key may make, and what workers have leased of it.

Revision: 0006, after 0005.
"""

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    pass


def downgrade() -> None:
    pass
