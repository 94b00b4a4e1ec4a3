"""Targets of sections, in the kitchen's settings.

Revision: 0010, after 0009.
"""

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing yet."""


def downgrade() -> None:
    """Nothing yet."""
