"""Margin alerts: crossings of a target, as far as the timeline was walked, and who took note.

Revision: 0012, after 0011.
"""

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing yet."""


def downgrade() -> None:
    """Nothing yet."""
