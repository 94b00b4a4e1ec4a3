"""Sales: what the POS sold, per business date.

Revision: 0008, after 0007.
"""

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    pass


def downgrade() -> None:
    pass
