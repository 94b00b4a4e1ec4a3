"""Webhooks: whom to tell, what was told, each delivery and its attempts, and how far the timeline was told.

Revision: 0009, after 0008.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
INSTANT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")


def upgrade() -> None:
    _make_webhooks()
    _make_standings()
    _make_deliveries()
    _make_the_cursor()


def downgrade() -> None:
    for name in ("webhook_dish_outside", "webhook_cursor", "webhook_attempt", "webhook_delivery", "webhook_secret",
                 "webhook_standing", "webhook"):
        op.drop_table(name)


def _text(name: str, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=nullable)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), nullable=False, autoincrement=False)


def _number(name: str, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, NUMBER, nullable=nullable)


def _of_a_webhook() -> list[SchemaItem]:
    return [_text("webhook_id"), sa.ForeignKeyConstraint(["webhook_id"], ["webhook.id"])]


def _make_webhooks() -> None:
    op.create_table(
        "webhook",
        _text("id"),
        _text("url"),
        _text("events"),
        _text("description"),
        sa.Column("figures", sa.Integer(), nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        _number("made_revision"),
        _number("changed_revision"),
        _number("deleted_revision", nullable=True),
        _text("ended", nullable=True),
        sa.PrimaryKeyConstraint("id"),
        *(sa.ForeignKeyConstraint([f"{did}_revision"], ["revision.number"]) for did in ("made", "changed", "deleted")),
        sa.CheckConstraint("figures IN (0, 1)", name="figures"),
        sa.CheckConstraint("changed_revision >= made_revision", name="changed_after_made"),
        sa.CheckConstraint("ended IN ('switched_off', 'gone', 'failing', 'restored')", name="ended"),
        sqlite_strict=True,
    )


def _make_standings() -> None:
    op.create_table(
        "webhook_standing",
        *_of_a_webhook(),
        _number("heard_from_revision"),
        sa.Column("heard_from_day", DAY, nullable=False),
        _whole("heard_from_proposal"),
        _number("last_sequence"),
        sa.Column("delivered_at", INSTANT),
        sa.Column("paused_until", INSTANT),
        sa.PrimaryKeyConstraint("webhook_id"),
        sa.CheckConstraint("last_sequence >= 0", name="last_sequence"),
        sqlite_strict=True,
    )
    op.create_table(
        "webhook_secret",
        *_of_a_webhook(),
        _whole("position"),
        _text("secret"),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("valid_until", INSTANT),
        sa.PrimaryKeyConstraint("webhook_id", "position"),
        sa.CheckConstraint("position >= 1", name="position"),
        sqlite_strict=True,
    )


def _make_deliveries() -> None:
    op.create_table(
        "webhook_delivery",
        _text("id"),
        *_of_a_webhook(),
        _number("sequence"),
        _text("event"),
        sa.Column("made_at", INSTANT, nullable=False),
        _text("body"),
        _text("state"),
        _whole("tries"),
        _whole("claims"),
        sa.Column("due_at", INSTANT),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("webhook_id", "sequence"),
        sa.CheckConstraint("state IN ('waiting', 'delivered', 'dead', 'cancelled')", name="state"),
        sa.CheckConstraint("(state = 'waiting' AND due_at IS NOT NULL) OR (state <> 'waiting' AND due_at IS NULL)",
                           name="due_at"),
        sqlite_strict=True,
    )
    waiting = sa.text("state = 'waiting'")
    op.create_index("ix_webhook_delivery_due", "webhook_delivery", ["webhook_id", "due_at", "sequence"],
                    sqlite_where=waiting, postgresql_where=waiting)
    op.create_index("ix_webhook_delivery_webhook_id_state_sequence", "webhook_delivery",
                    ["webhook_id", "state", "sequence"])
    op.create_index("ix_webhook_delivery_made_at", "webhook_delivery", ["made_at"])
    came = ", ".join(f"'{word}'" for word in ("delivered", "refused", "gone", "timed_out", "not_reached",
                                              "target_refused"))
    op.create_table(
        "webhook_attempt",
        _text("delivery_id"),
        _whole("number"),
        sa.Column("at", INSTANT, nullable=False),
        _text("came"),
        sa.Column("status", sa.Integer()),
        sa.PrimaryKeyConstraint("delivery_id", "number"),
        sa.ForeignKeyConstraint(["delivery_id"], ["webhook_delivery.id"]),
        sa.CheckConstraint(f"came IN ({came})", name="came"),
        sqlite_strict=True,
    )


def _make_the_cursor() -> None:
    cursor = op.create_table(
        "webhook_cursor",
        _whole("id"),
        _number("version"),
        _number("revision", nullable=True),
        sa.Column("day", DAY),
        _whole("part"),
        _whole("proposal"),
        sa.PrimaryKeyConstraint("id"),
        sa.CheckConstraint("id = 1", name="one_row"),
        sa.CheckConstraint("(revision IS NULL) = (day IS NULL)", name="place"),
        sqlite_strict=True,
    )
    op.bulk_insert(cursor, [{"id": 1, "version": 0, "part": 0, "proposal": 0}])
    op.create_table("webhook_dish_outside", _text("dish"), sa.PrimaryKeyConstraint("dish"), sqlite_strict=True)
