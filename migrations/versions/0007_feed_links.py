"""Feed links: read-only addresses for programs that cannot send a header.

Revision: 0007, after 0006.
"""

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    pass


def downgrade() -> None:
    pass
