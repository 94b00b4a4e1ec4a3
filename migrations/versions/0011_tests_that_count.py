"""Which yield tests a breakdown rests on: the last few, or those since a day.

Revision: 0011, after 0010.
"""

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing yet."""


def downgrade() -> None:
    """Nothing yet."""
