# ruff: noqa: S608  (its SQL is made of names and texts that stand here)
"""Guards: a ledger that is broken cannot be committed, nor its history changed, whoever writes.

What a revision brings is let in until the head has moved to it, entries until then and the records of the newest one;
the head moves forward alone, and only to the last revision, once its entries are numbered from 1 without a gap.
`promised` is the last revision that was inserted: it refers to the head's own revision, looked at when a transaction
commits, so none ends with a revision that the head has not moved to. Of what is recorded only what ends it (replaced,
withdrawn, set aside, revoked) may be written, and once.

The release before writes in an order that these guards let in. On SQLite a column that is added later is not guarded
until the trigger `<table>_stands` is made anew, and a table that is made anew loses its triggers.

Revision: 0013, after 0012.
"""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

GENESIS = "0" * 64
IDENTITIES = ("kitchen_settings", "supplier", "ingredient", "cut", "breakdown", "recipe", "dish", "supplier_item")
PARTS = ("breakdown_output", "recipe_line", "dish_line", "yield_test_output", "sales_line")
WITHDRAWN = ("withdrawn_revision", "withdrawn_entry", "withdrawn_reason")
SET_ASIDE = ("set_aside_revision", "set_aside_entry", "set_aside_reason")
REPLACED, REVOKED = ("replaced_revision",), ("revoked_at",)
ENDS = {  # what may be written once; the first says by which revision, where one does
    **{f"{name}_version": REPLACED for name in IDENTITIES if name != "cut"}, "sales_day": REPLACED,
    "price": WITHDRAWN, "yield_test": SET_ASIDE, "access_key": REVOKED, "feed_link": REVOKED,
    **dict.fromkeys((*PARTS, *IDENTITIES, "margin_alert_acknowledgement"), ())}
FREE = {"access_key": ("last_used_at",), "feed_link": ("last_used_at",)}
MADE = [name for name in ENDS if name not in IDENTITIES]
HEAD = "(SELECT revision FROM ledger_head)"
STANDS = "what was recorded stands"
LATE = "nothing is added to a revision that the head has moved past"
FOLLOWS = "the head moves forward to the last revision, once that is whole"

HEAD_WRONG = f"""
NEW.id <> 1 OR NEW.promised IS {{differs}} (SELECT max(number) FROM revision) OR NEW.revision < OLD.revision
OR (NEW.revision = OLD.revision AND (
    NEW.on_date <> OLD.on_date OR NEW.hash <> OLD.hash OR NEW.figures_revision <> OLD.figures_revision
    OR NEW.figures_hash <> OLD.figures_hash))
OR (NEW.revision > OLD.revision AND (
    NEW.revision <> NEW.promised
    OR NOT EXISTS (SELECT 1 FROM revision
                   WHERE number = NEW.revision AND hash = NEW.hash AND on_date = NEW.on_date)
    OR NEW.figures_revision <> COALESCE((SELECT max(number) FROM revision WHERE moves_figures = 1), 0)
    OR NEW.figures_hash <> COALESCE((SELECT hash FROM revision WHERE number = NEW.figures_revision), '{GENESIS}')
    OR NEW.revision - OLD.revision <> (
        SELECT count(*) FROM (SELECT revision FROM entry WHERE revision > OLD.revision AND revision <= NEW.revision
                              GROUP BY revision HAVING count(*) = max(number)) AS whole)))
"""


def upgrade() -> None:
    sqlite = op.get_bind().dialect.name == "sqlite"
    op.create_index("uq_ledger_head_revision", "ledger_head", ["revision"], unique=True)
    with op.batch_alter_table("ledger_head", table_kwargs={"sqlite_strict": True}) as batch:
        batch.add_column(sa.Column("promised", sa.BigInteger().with_variant(sa.Integer(), "sqlite")))
        batch.create_foreign_key("fk_ledger_head_promised", "ledger_head", ["promised"], ["revision"],
                                 deferrable=True, initially="DEFERRED")
    op.execute("UPDATE ledger_head SET promised = (SELECT max(number) FROM revision)")
    if sqlite:
        _guard_sqlite()
    else:
        op.execute("SET CONSTRAINTS ALL IMMEDIATE")
        _guard_postgresql()


def downgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for name in [row[0] for row in op.get_bind().exec_driver_sql(
                "SELECT name FROM sqlite_schema WHERE type = 'trigger' AND name LIKE 'guard\\_%' ESCAPE '\\'")]:
            op.execute(f"DROP TRIGGER {name}")
        op.execute("DROP INDEX uq_ledger_head_revision")
        _rebuild_head_without_promise()
    else:
        for function in ("guard_promise", "guard_head", "guard_entries", "guard_made", "guard_standing",
                         "guard_revoked"):
            op.execute(f"DROP FUNCTION {function}() CASCADE")
        for table in ("ledger_head", *ENDS):
            op.execute(f"DROP TRIGGER guard_{table}_kept ON {table}")
        op.execute("ALTER TABLE ledger_head DROP COLUMN promised")
        op.execute("DROP INDEX uq_ledger_head_revision")


def _rebuild_head_without_promise() -> None:
    """SQLite takes no column away that refers to something."""
    with op.batch_alter_table("ledger_head", recreate="always", table_kwargs={"sqlite_strict": True}) as batch:
        batch.drop_column("promised")


def _refuse(name: str, when: str, wrong: str, why: str) -> None:
    """On SQLite."""
    op.execute(f"CREATE TRIGGER guard_{name} BEFORE {when} WHEN {wrong} BEGIN SELECT RAISE(ABORT, '{why}'); END")


def _guard_sqlite() -> None:
    """INSERT OR REPLACE removes what is in its way without a word on a connection that has not asked for
    recursive_triggers, so what is there already is refused before."""
    op.execute("CREATE TRIGGER guard_revision_promised AFTER INSERT ON revision BEGIN "
               "UPDATE ledger_head SET promised = (SELECT max(number) FROM revision); END")
    _refuse("revision_late", "INSERT ON revision", f"NEW.number <= {HEAD}", LATE)
    _refuse("entry_late", "INSERT ON entry",
            f"NEW.revision <= {HEAD} OR EXISTS (SELECT 1 FROM entry WHERE revision = NEW.revision "
            "AND number = NEW.number)", LATE)
    _refuse("ledger_head_follows", "UPDATE ON ledger_head", HEAD_WRONG.format(differs="NOT"), FOLLOWS)
    _refuse("ledger_head_kept", "DELETE ON ledger_head", "1", STANDS)
    _refuse("ledger_head_one", "INSERT ON ledger_head", "EXISTS (SELECT 1 FROM ledger_head)", STANDS)
    for table, ends in ENDS.items():
        columns = [row[1] for row in op.get_bind().exec_driver_sql(f"PRAGMA table_info({table})")]
        kept = [name for name in columns if name not in ends and name not in FREE.get(table, ())]
        _refuse(f"{table}_kept", f"DELETE ON {table}", "1", STANDS)
        _refuse(f"{table}_stands", f"UPDATE OF {', '.join(kept)} ON {table}", "1", STANDS)
        if ends:
            late = "" if ends == REVOKED else f" OR NEW.{ends[0]} < {HEAD}"
            _refuse(f"{table}_ended", f"UPDATE OF {', '.join(ends)} ON {table}",
                    f"OLD.{ends[0]} IS NOT NULL OR NEW.{ends[0]} IS NULL{late}", STANDS)
        late = f"NEW.made_revision < {HEAD} OR " if table in MADE else ""
        _refuse(f"{table}_late", f"INSERT ON {table}", f"{late}EXISTS (SELECT 1 FROM {table} WHERE {_same(table)})",
                LATE if table in MADE else STANDS)


def _same(table: str) -> str:
    """What a row that is there would have in common with a new one that it is in the way of."""
    if table in IDENTITIES:
        return "id = NEW.id OR code = NEW.code"
    if table in FREE:
        secret = "secret_hash" if table == "access_key" else "token_hash"
        return f"id = NEW.id OR {secret} = NEW.{secret}"
    key = "made_revision = NEW.made_revision AND made_entry = NEW.made_entry"
    if table in PARTS:
        return f"{key} AND position = NEW.position"
    if table == "sales_day":
        return f"({key}) OR (NEW.replaced_revision IS NULL AND replaced_revision IS NULL " \
               "AND business_date = NEW.business_date)"
    if table.endswith("_version"):
        owner = f"{table.removesuffix('_version')}_id"
        return f"({key}) OR (NEW.replaced_revision IS NULL AND replaced_revision IS NULL " \
               f"AND {owner} = NEW.{owner} AND effective_from IS NEW.effective_from)"
    return key


def _guard_postgresql() -> None:
    _function("guard_promise", "UPDATE ledger_head SET promised = (SELECT max(number) FROM revision); RETURN NULL;")
    op.execute("CREATE TRIGGER guard_revision_promised AFTER INSERT ON revision "
               "FOR EACH STATEMENT EXECUTE FUNCTION guard_promise()")
    _function("guard_head", f"IF {HEAD_WRONG.format(differs='DISTINCT FROM')} THEN {_raise(FOLLOWS)} END IF; "
                            "RETURN NEW;")
    op.execute("CREATE TRIGGER guard_ledger_head_follows BEFORE UPDATE ON ledger_head "
               "FOR EACH ROW EXECUTE FUNCTION guard_head()")
    _function("guard_entries", f"IF EXISTS (SELECT 1 FROM added WHERE revision <= {HEAD}) THEN {_raise(LATE)} END IF; "
                               "RETURN NULL;")
    _function("guard_made", f"IF EXISTS (SELECT 1 FROM added WHERE made_revision < {HEAD}) THEN {_raise(LATE)} END IF;"
                            " RETURN NULL;")
    _look_at_added("entry", "guard_entries")
    _function("guard_standing", f"""
    IF to_jsonb(NEW) - TG_ARGV IS DISTINCT FROM to_jsonb(OLD) - TG_ARGV OR TG_NARGS = 0
       OR to_jsonb(OLD) -> TG_ARGV[0] <> 'null' OR to_jsonb(NEW) -> TG_ARGV[0] = 'null'
       OR (to_jsonb(NEW) ->> TG_ARGV[0])::bigint < {HEAD}
    THEN {_raise(STANDS)} END IF; RETURN NEW;""")
    _function("guard_revoked", f"""
    IF to_jsonb(NEW) - ARRAY['revoked_at', 'last_used_at'] IS DISTINCT FROM
           to_jsonb(OLD) - ARRAY['revoked_at', 'last_used_at']
       OR (OLD.revoked_at IS NOT NULL AND NEW.revoked_at IS DISTINCT FROM OLD.revoked_at)
    THEN {_raise(STANDS)} END IF; RETURN NEW;""")
    op.execute("CREATE TRIGGER guard_ledger_head_kept BEFORE DELETE OR TRUNCATE ON ledger_head "
               "FOR EACH STATEMENT EXECUTE FUNCTION ledger_is_append_only()")
    for table, ends in ENDS.items():
        op.execute(f"CREATE TRIGGER guard_{table}_kept BEFORE DELETE OR TRUNCATE ON {table} "
                   "FOR EACH STATEMENT EXECUTE FUNCTION ledger_is_append_only()")
        told = "guard_revoked()" if ends == REVOKED else f"guard_standing({', '.join(map(repr, ends))})"
        op.execute(f"CREATE TRIGGER guard_{table}_stands BEFORE UPDATE ON {table} "
                   f"FOR EACH ROW EXECUTE FUNCTION {told}")
        if table in MADE:
            _look_at_added(table, "guard_made")


def _function(name: str, body: str) -> None:
    op.execute(f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} END $$")


def _look_at_added(table: str, function: str) -> None:
    op.execute(f"CREATE TRIGGER guard_{table}_late AFTER INSERT ON {table} REFERENCING NEW TABLE AS added "
               f"FOR EACH STATEMENT EXECUTE FUNCTION {function}()")


def _raise(why: str) -> str:
    return f"RAISE EXCEPTION '{why}' USING ERRCODE = 'integrity_constraint_violation';"
