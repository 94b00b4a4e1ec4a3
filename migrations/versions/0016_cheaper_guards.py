# ruff: noqa: S608  (its SQL is made of texts that stand here)
"""The same guards on PostgreSQL, for less: the head's row is written once for a revision, and asked about once.

In 0013 every revision that was inserted wrote `promised` into the head's row, whose guard then asked all its questions,
and once more when the head moved. Now the head's guard writes `promised` itself as the head moves, and that no
transaction ends with a revision that the head has not moved to is looked at on the revision, when the transaction
commits. What is asked of a revision that the head moves to is one query; what the rows themselves tell asks none.

The guards keep their names, and those of SQLite are as they were: each of its writes is one process's own, and they
cost little there. A release from before goes on as it did: it never wrote `promised`.

Revision: 0016, after 0015.
"""

from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None
works_from = "0014"

GENESIS = "0" * 64
FOLLOWS = "the head moves forward to the last revision, once that is whole"
REFUSED = f"RAISE EXCEPTION '{FOLLOWS}' USING ERRCODE = 'integrity_constraint_violation';"

HEAD_MOVES = f"""
CREATE FUNCTION guard_head_moves() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE made record;
BEGIN
    IF NEW.id <> 1 OR NEW.revision < OLD.revision
       OR (NEW.promised IS DISTINCT FROM OLD.promised AND NEW.promised IS DISTINCT FROM NEW.revision)
    THEN {REFUSED} END IF;
    IF NEW.revision = OLD.revision THEN
        IF NEW.on_date <> OLD.on_date OR NEW.hash <> OLD.hash OR NEW.figures_revision <> OLD.figures_revision
           OR NEW.figures_hash <> OLD.figures_hash
        THEN {REFUSED} END IF;
        RETURN NEW;
    END IF;
    SELECT hash, on_date, moves_figures, (
        SELECT count(*) FROM (SELECT FROM entry WHERE revision > OLD.revision AND revision <= NEW.revision
                              GROUP BY revision HAVING count(*) = max(number)) AS whole) AS whole
        INTO made FROM revision WHERE number = NEW.revision;
    IF NOT FOUND OR NEW.hash <> made.hash OR NEW.on_date <> made.on_date
       OR NEW.revision - OLD.revision <> made.whole
    THEN {REFUSED} END IF;
    IF made.moves_figures = 1 THEN
        IF NEW.figures_revision <> NEW.revision OR NEW.figures_hash <> NEW.hash THEN {REFUSED} END IF;
    ELSIF NEW.figures_revision <> COALESCE((SELECT max(number) FROM revision WHERE moves_figures = 1), 0)
       OR NEW.figures_hash <> COALESCE((SELECT hash FROM revision WHERE number = NEW.figures_revision), '{GENESIS}')
    THEN {REFUSED} END IF;
    NEW.promised := NEW.revision;
    RETURN NEW;
END $$
"""
REVISION_FOLLOWED = f"""
CREATE FUNCTION guard_revision_followed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM ledger_head WHERE revision >= NEW.number) THEN {REFUSED} END IF;
    RETURN NULL;
END $$
"""


def upgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        return
    op.execute(HEAD_MOVES)
    op.execute(REVISION_FOLLOWED)
    _guard("ledger_head_follows", "BEFORE UPDATE ON ledger_head", "FOR EACH ROW", "guard_head_moves")
    op.execute("DROP TRIGGER guard_revision_promised ON revision")
    op.execute("CREATE CONSTRAINT TRIGGER guard_revision_promised AFTER INSERT ON revision DEFERRABLE INITIALLY "
               "DEFERRED FOR EACH ROW EXECUTE FUNCTION guard_revision_followed()")


def downgrade() -> None:
    """To the functions of 0013, which are still there."""
    if op.get_bind().dialect.name == "sqlite":
        return
    _guard("ledger_head_follows", "BEFORE UPDATE ON ledger_head", "FOR EACH ROW", "guard_head")
    _guard("revision_promised", "AFTER INSERT ON revision", "FOR EACH STATEMENT", "guard_promise")
    op.execute("DROP FUNCTION guard_head_moves()")
    op.execute("DROP FUNCTION guard_revision_followed()")


def _guard(name: str, when: str, each: str, function: str) -> None:
    op.execute(f"DROP TRIGGER guard_{name} ON {when.rpartition(' ')[2]}")
    op.execute(f"CREATE TRIGGER guard_{name} {when} {each} EXECUTE FUNCTION {function}()")
