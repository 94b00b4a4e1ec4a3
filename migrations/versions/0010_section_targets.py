"""Targets of sections, in the kitchen's settings.

Settings that are recorded already have none: the column is empty in their rows, which is how none is kept.

Revision: 0010, after 0009.
"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

SETTINGS = "kitchen_settings_version"


def upgrade() -> None:
    op.add_column(SETTINGS, sa.Column("section_targets", sa.Text()))


def downgrade() -> None:
    op.execute(f"ALTER TABLE {SETTINGS} DROP COLUMN section_targets")
