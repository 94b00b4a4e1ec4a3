"""The ledger: revisions and entries that only grow, the head, keys, idempotency rows, the signing secret.

Revision: 0001, the first.
"""

import secrets

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
INSTANT = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")
APPEND_ONLY = ("revision", "entry")

SQLITE_CONTINUES = """
CREATE TRIGGER revision_continues BEFORE INSERT ON revision
WHEN (NEW.number = 1 AND NEW.previous_hash <> '{genesis}') OR (NEW.number > 1 AND NOT EXISTS (
    SELECT 1 FROM revision WHERE number = NEW.number - 1 AND hash = NEW.previous_hash AND on_date <= NEW.on_date))
BEGIN SELECT RAISE(ABORT, 'a revision continues the one before it'); END
"""
POSTGRESQL_CONTINUES = """
CREATE FUNCTION revision_continues() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (NEW.number = 1 AND NEW.previous_hash <> '{genesis}') OR (NEW.number > 1 AND NOT EXISTS (
        SELECT 1 FROM revision WHERE number = NEW.number - 1 AND hash = NEW.previous_hash AND on_date <= NEW.on_date))
    THEN RAISE EXCEPTION 'a revision continues the one before it' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$
"""
POSTGRESQL_APPEND_ONLY = """
CREATE FUNCTION ledger_is_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'the ledger is append-only' USING ERRCODE = 'integrity_constraint_violation'; END $$
"""


def upgrade() -> None:
    _make_chain()
    _make_single_rows()
    _make_keys()
    if op.get_bind().dialect.name == "sqlite":
        _guard_sqlite()
    else:
        _guard_postgresql()


def downgrade() -> None:
    for table in ("idempotency", "access_key", "signing_secret", "ledger_head", "entry", "revision"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION revision_continues()")
        op.execute("DROP FUNCTION ledger_is_append_only()")


def _hash(name: str) -> list[sa.schema.SchemaItem]:
    return [
        sa.Column(name, sa.Text(), nullable=False),
        sa.CheckConstraint(f"length({name}) = 64", name=name),
    ]


def _make_chain() -> None:
    op.create_table(
        "revision",
        sa.Column("number", NUMBER, nullable=False, autoincrement=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("on_date", DAY, nullable=False),
        sa.Column("key_id", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("request_id", sa.Text(), nullable=False),
        sa.Column("moves_figures", sa.Integer(), nullable=False),
        *_hash("previous_hash"),
        *_hash("hash"),
        sa.PrimaryKeyConstraint("number"),
        sa.CheckConstraint("number >= 1", name="number"),
        sa.CheckConstraint("moves_figures IN (0, 1)", name="moves_figures"),
        sqlite_strict=True,
    )
    op.create_index("ix_revision_moves_figures_number", "revision", ["moves_figures", "number"])
    op.create_table(
        "entry",
        sa.Column("revision", NUMBER, nullable=False),
        sa.Column("number", NUMBER, nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("revision", "number"),
        sa.ForeignKeyConstraint(["revision"], ["revision.number"]),
        sa.CheckConstraint("number >= 1", name="number"),
        sqlite_strict=True,
    )
    op.create_index("ix_entry_kind_code_revision", "entry", ["kind", "code", "revision"])


def _make_single_rows() -> None:
    head = op.create_table(
        "ledger_head",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("revision", NUMBER, nullable=False),
        sa.Column("on_date", DAY, nullable=False),
        *_hash("hash"),
        sa.Column("figures_revision", NUMBER, nullable=False),
        *_hash("figures_hash"),
        sa.PrimaryKeyConstraint("id"),
        sa.CheckConstraint("id = 1", name="one_row"),
        sa.CheckConstraint("figures_revision BETWEEN 0 AND revision", name="figures_revision"),
        sqlite_strict=True,
    )
    secret = op.create_table(
        "signing_secret",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        *_hash("secret"),
        sa.PrimaryKeyConstraint("id"),
        sa.CheckConstraint("id = 1", name="one_row"),
        sqlite_strict=True,
    )
    genesis = "0" * 64
    op.execute(head.insert().values(
        id=1, revision=0, on_date=sa.text("'1970-01-01'"), hash=genesis, figures_revision=0, figures_hash=genesis))
    op.execute(secret.insert().values(id=1, secret=secrets.token_hex(32)))


def _make_keys() -> None:
    op.create_table(
        "access_key",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("scopes", sa.Text(), nullable=False),
        *_hash("secret_hash"),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("expires_at", INSTANT),
        sa.Column("last_used_at", INSTANT),
        sa.Column("revoked_at", INSTANT),
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("secret_hash"),
        sa.ForeignKeyConstraint(["made_revision"], ["revision.number"]),
        sqlite_strict=True,
    )
    op.create_table(
        "idempotency",
        sa.Column("key_id", sa.Text(), nullable=False),
        sa.Column("route", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        *_hash("fingerprint"),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.PrimaryKeyConstraint("key_id", "route", "key"),
        sqlite_strict=True,
    )
    op.create_index("ix_idempotency_made_at", "idempotency", ["made_at"])


def _guard_sqlite() -> None:
    """INSERT OR REPLACE fires the DELETE trigger too, since recursive_triggers is on for every connection."""
    for table in APPEND_ONLY:
        for event in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{event.lower()} BEFORE {event} ON {table} "
                "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END")
    op.execute(SQLITE_CONTINUES.format(genesis="0" * 64))


def _guard_postgresql() -> None:
    op.execute(POSTGRESQL_APPEND_ONLY)
    for table in APPEND_ONLY:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION ledger_is_append_only()")
    op.execute(POSTGRESQL_CONTINUES.format(genesis="0" * 64))
    op.execute("CREATE TRIGGER revision_continues BEFORE INSERT ON revision "
               "FOR EACH ROW EXECUTE FUNCTION revision_continues()")
