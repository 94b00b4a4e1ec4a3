"""Which yield tests a breakdown rests on: the last few, those since a day, or, as before, all.

Both columns hold nothing in what is recorded already, so that no figure moves. Each check is written as one of a
column's, which SQLite takes away together with the column; the second column goes first, since its check names both.

Revision: 0011, after 0010.
"""

from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

TABLE = "breakdown_version"
LAST, SINCE = "yields_from_last_tests", "yields_from_tests_since"


def upgrade() -> None:
    day = "TEXT" if op.get_bind().dialect.name == "sqlite" else "DATE"
    _add(LAST, "INTEGER", LAST, f"{LAST} >= 1")
    _add(SINCE, day, "yields_from_one_choice", f"{LAST} IS NULL OR {SINCE} IS NULL")


def downgrade() -> None:
    for column in (SINCE, LAST):
        op.execute(f"ALTER TABLE {TABLE} DROP COLUMN {column}")


def _add(column: str, kind: str, check: str, condition: str) -> None:
    op.execute(f"ALTER TABLE {TABLE} ADD COLUMN {column} {kind} CONSTRAINT ck_{TABLE}_{check} CHECK ({condition})")
