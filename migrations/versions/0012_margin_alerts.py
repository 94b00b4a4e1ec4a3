"""Margin alerts: crossings of a target, as far as the timeline was walked, and who took note.

Revision: 0012, after 0011.
"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    _make_alerts()
    op.create_table(
        "margin_alert_cursor",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("version", NUMBER, nullable=False),
        sa.Column("revision", NUMBER),
        sa.Column("day", DAY),
        sa.Column("last_number", NUMBER, nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.CheckConstraint("id = 1", name="one_row"),
        sa.CheckConstraint("(revision IS NULL) = (day IS NULL)", name="place"),
        sqlite_strict=True,
    )
    op.create_table(
        "margin_alert_acknowledgement",
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.Column("made_entry", NUMBER, nullable=False),
        sa.Column("alert_id", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("made_revision", "made_entry"),
        sa.ForeignKeyConstraint(["made_revision", "made_entry"], ["entry.revision", "entry.number"]),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_index("ix_margin_alert_acknowledgement_alert_id", "margin_alert_acknowledgement", ["alert_id"])


def downgrade() -> None:
    for name in ("margin_alert_acknowledgement", "margin_alert_cursor", "margin_alert"):
        op.drop_table(name)


def _make_alerts() -> None:
    op.create_table(
        "margin_alert",
        sa.Column("number", NUMBER, nullable=False, autoincrement=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("dish", sa.Text(), nullable=False),
        sa.Column("section", sa.Text(), nullable=False),
        sa.Column("crossed", sa.Text(), nullable=False),
        sa.Column("revision", NUMBER, nullable=False),
        sa.Column("day", DAY, nullable=False),
        sa.Column("moved_by", sa.Text(), nullable=False),
        sa.Column("closes", NUMBER),
        sa.Column("open", sa.Integer(), nullable=False),
        sa.Column("told", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number"),
        sa.UniqueConstraint("id"),
        sa.UniqueConstraint("closes"),
        sa.ForeignKeyConstraint(["revision"], ["revision.number"]),
        sa.ForeignKeyConstraint(["closes"], ["margin_alert.number"]),
        sa.CheckConstraint("crossed IN ('outside', 'back_within', 'left_menu')", name="crossed"),
        sa.CheckConstraint("moved_by IN ('revision', 'date')", name="moved_by"),
        sa.CheckConstraint("(crossed = 'outside') = (closes IS NULL)", name="closes"),
        sa.CheckConstraint("open IN (0, 1)", name="open"),
        sa.CheckConstraint("open = 0 OR crossed = 'outside'", name="open_outside"),
        sqlite_strict=True,
    )
    is_open = sa.text("open = 1")
    op.create_index("uq_margin_alert_open", "margin_alert", ["dish"], unique=True, sqlite_where=is_open,
                    postgresql_where=is_open)
    op.create_index("ix_margin_alert_dish_number", "margin_alert", ["dish", "number"])
