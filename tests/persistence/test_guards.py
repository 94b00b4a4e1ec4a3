"""A ledger that is broken cannot be committed: attempts, each refused by the database itself, on both engines.

Each is tried on the service's own connections, and on a bare one of the driver that has asked for nothing but, on
SQLite, that references hold (a database cannot do that by itself there). Without the guards every one
of them goes through: so each is an attempt, and not a mistake in its SQL.
"""

import psycopg
import pytest
from sqlalchemy.exc import DatabaseError

from service.domain.supplier import Supplier
from service.persistence import sqlite_engine
from service.persistence.column_types import Day, Flag, Instant, JsonText
from service.persistence.engines import open_engines, sqlite_file
from service.persistence.migrating import migrate
from service.persistence.schema_fit import newest_version
from service.persistence.tables import base, chain
from service.persistence.verifying import verify
from service.use_cases.ports import AccessKey, Entry
from tests.builders import a_price
from tests.persistence.guards import guards_of, take_guards_away
from tests.persistence.test_migrations import EVERYTHING
from tests.persistence.writing import CHEF, record, take_back
from tests.reliability.next_release import next_release
from tests.sold import a_sale, a_sales_day

HEAD = 5
NEW = "cd" * 32
REVISION = ("INSERT INTO revision (number, made_at, on_date, key_id, who, request_id, moves_figures, previous_hash, "
            "hash) "
            "SELECT {number}, made_at, on_date, key_id, who, request_id, 1, hash, '" + NEW + "' FROM revision "
            f"WHERE number = {HEAD}")
NEXT = REVISION.format(number=HEAD + 1)
MOVED = (f"UPDATE ledger_head SET revision = {HEAD + 1}, hash = '{NEW}', figures_revision = {HEAD + 1}, "
         f"figures_hash = '{NEW}'")
SUPPLIER = ("INSERT INTO supplier_version (made_revision, made_entry, supplier_id, replaced_revision, retired, name, "
            "note) "
            "VALUES ({made}, {entry}, {owner}, {replaced}, 0, 'Fenmoor', '')")
PRICE = ("INSERT INTO price (made_revision, made_entry, ingredient_id, supplier_id, amount, pack_quantity, pack_unit, "
         "effective_from, reference) VALUES ({made}, {entry}, 1, 1, 1, 1, 'kg', '2026-03-01', '')")


def entry(revision: int, number: int) -> str:
    return f"INSERT INTO entry VALUES ({revision}, {number}, 'keep', 'supplier', 'fenmoor', '{{}}')"


WHOLE = [NEXT, entry(HEAD + 1, 1), MOVED]
SQLITE_ONLY = {
    "an entry written over": ["INSERT OR REPLACE INTO entry VALUES (1, 1, 'a', 'b', 'c', '{}')"],
    "an entry of the newest written over": [f"INSERT OR REPLACE INTO entry VALUES ({HEAD}, 1, 'a', 'b', 'c', '{{}}')"],
    "a revision written over": ["INSERT OR REPLACE INTO revision SELECT 2, made_at, on_date, 'k', 'w', 'r', 1, "
                                f"previous_hash, '{NEW}' FROM revision WHERE number = 2"],
    "an identity written over": ["INSERT OR REPLACE INTO supplier (id, code) VALUES (1, 'other')"],
    "a version pushed out": [*WHOLE, SUPPLIER.replace("INSERT", "INSERT OR REPLACE").format(
        made=HEAD + 1, entry=1, owner=1, replaced="NULL")],
    "a price written over": [PRICE.replace("INSERT", "INSERT OR REPLACE").format(made=2, entry=1)],
    "the head written over": ["INSERT OR REPLACE INTO ledger_head SELECT id, 2, on_date, hash, 2, figures_hash, "
                              "promised FROM ledger_head"],
}
ATTEMPTS = {
    "a gap in revisions": [REVISION.format(number=HEAD + 2)],
    "a revision alone": [NEXT],
    "a revision without entries": [NEXT, MOVED],
    "a revision that the head does not move to": [NEXT, entry(HEAD + 1, 1)],
    "the promise of a revision taken back": [NEXT, entry(HEAD + 1, 1), f"UPDATE ledger_head SET promised = {HEAD}"],
    "entries with a gap": [NEXT, entry(HEAD + 1, 1), entry(HEAD + 1, 3), MOVED],
    "entries from the second": [NEXT, entry(HEAD + 1, 2), MOVED],
    "an entry after the head has moved": [*WHOLE, entry(HEAD + 1, 2)],
    "an entry added to the newest": [entry(HEAD, 9)],
    "an entry added to an old one": [entry(1, 99)],
    "an entry of no revision": [entry(HEAD + 9, 1)],
    "a head that goes back": ["UPDATE ledger_head SET revision = 1, "
                              "hash = (SELECT hash FROM revision WHERE number = 1), "
                              "figures_revision = 1, figures_hash = (SELECT hash FROM revision WHERE number = 1)"],
    "a head before its revision": [f"UPDATE ledger_head SET revision = {HEAD + 1}"],
    "a head of another hash": [f"UPDATE ledger_head SET hash = '{NEW}'"],
    "a head of another day": ["UPDATE ledger_head SET on_date = '2031-01-01'"],
    "a head of other figures": ["UPDATE ledger_head SET figures_revision = 1"],
    "a head moved to another hash": [
        NEXT, entry(HEAD + 1, 1), MOVED.replace(f"hash = '{NEW}',", f"hash = '{'ab' * 32}',", 1)],
    "a head moved to old figures": [
        NEXT, entry(HEAD + 1, 1), f"UPDATE ledger_head SET revision = {HEAD + 1}, hash = '{NEW}'"],
    "no head": ["DELETE FROM ledger_head"],
    "two versions in force at once": [*WHOLE, SUPPLIER.format(made=HEAD + 1, entry=1, owner=1, replaced="NULL")],
    "a version replaced before it was made": [*WHOLE, SUPPLIER.format(made=HEAD + 1, entry=1, owner=1, replaced=1)],
    "a version replaced by no revision": [*WHOLE, SUPPLIER.format(made=HEAD + 1, entry=1, owner=1, replaced=99)],
    "a version of nothing": [*WHOLE, SUPPLIER.format(made=HEAD + 1, entry=1, owner=99, replaced="NULL")],
    "a version made by no entry": [*WHOLE, SUPPLIER.format(made=HEAD + 1, entry=2, owner=2, replaced="NULL")],
    "a version added to the past": [SUPPLIER.format(made=1, entry=1, owner=1, replaced=2)],
    "a price added to the past": [PRICE.format(made=1, entry=1)],
    "a line added to the past": ["INSERT INTO dish_line SELECT made_revision, made_entry, 99, quantity, unit, "
                                 "ingredient_id, cut_id, recipe_id, yield_percent, cooking_yield_percent, note "
                                 "FROM dish_line WHERE position = 1"],
    "a version replaced again": [f"UPDATE supplier_version SET replaced_revision = {HEAD} WHERE made_revision = 1"],
    "a version in force again": ["UPDATE supplier_version SET replaced_revision = NULL WHERE made_revision = 1"],
    "a version replaced by an old revision": ["UPDATE dish_version SET replaced_revision = 2"],
    "a version changed as it is replaced": [f"UPDATE dish_version SET replaced_revision = {HEAD}, name = 'other'"],
    "a price back in force": ["UPDATE price SET withdrawn_revision = NULL, withdrawn_entry = NULL, "
                              "withdrawn_reason = NULL WHERE withdrawn_revision IS NOT NULL"],
    "a price withdrawn by an old revision": ["UPDATE price SET withdrawn_revision = 3, withdrawn_entry = 1, "
                                             "withdrawn_reason = 'x' WHERE withdrawn_revision IS NULL"],
    "a price changed as it is withdrawn": [
        f"UPDATE price SET amount = 1, withdrawn_revision = {HEAD}, withdrawn_entry = 1, withdrawn_reason = 'x' "
        "WHERE withdrawn_revision IS NULL"],
    "a key that opens again": ["UPDATE access_key SET revoked_at = NULL"],
    "a key of other scopes": ["UPDATE access_key SET scopes = '[\"admin\"]'"],
}
HISTORY = [table for table in base.metadata.sorted_tables
           if ("made_revision" in table.c and table.name not in ("webhook", "access_key", "feed_link"))
           or table.name in ("supplier", "ingredient", "cut", "breakdown", "recipe", "dish", "supplier_item",
                             "kitchen_settings", "revision", "entry")]


@pytest.fixture
def filled(ledger, engines, clock):
    """Five revisions: everything, a supplier replaced, a price, one withdrawn, a key that was revoked and sales."""
    record(ledger, *EVERYTHING)
    record(ledger, Supplier("fenmoor", "Fenmoor of Holt"))
    record(ledger, a_price("15"))
    with ledger.write(CHEF) as work:
        take_back(work, work.kitchen().prices["beef-topside"][0])
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("created", "key", "k1", {}))
        work.add_key(AccessKey("k1", "till", ("costs:read",), clock(), None, None, None), "ab" * 32)
        sold = work.next_mark(Entry("record_sales", "sales", "2026-03-01", {}))
        work.sales.keep(a_sales_day(clock().date(), a_sale("7", "1", "2"), made=sold))
        work.revoke_key("k1", clock())
    assert ledger.head().revision == HEAD
    on_the_service_s_own(engines, [
        f"INSERT INTO margin_alert_acknowledgement VALUES ({HEAD}, 1, 'an-alert', 'seen')"])
    return ledger


def on_the_service_s_own(engines, statements):
    with engines.write() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)


def on_a_bare_one(engines, statements, guarded=True):
    """A plain connection of the driver: no pragma but the one, no setting of the session. Without guards nothing is
    kept."""
    if engines.is_sqlite:
        connection = sqlite_engine.driver().connect(sqlite_file(engines.url), isolation_level=None)
        connection.execute(f"PRAGMA foreign_keys={'ON' if guarded else 'OFF'}")
        connection.execute("BEGIN")
    else:
        connection = psycopg.connect(engines.url.set(drivername="postgresql").render_as_string(False))
        if not guarded:
            connection.execute("SET session_replication_role = replica")
    try:
        for statement in statements:
            connection.execute(statement)
        connection.execute("COMMIT" if guarded else "ROLLBACK")
    finally:
        connection.close()


WAYS = {"own": on_the_service_s_own, "bare": on_a_bare_one}
REFUSED = (DatabaseError, psycopg.IntegrityError, sqlite_engine.driver().IntegrityError)


def test_every_attempt_to_break_the_ledger_is_refused(filled, engines):
    attempts = ATTEMPTS | (SQLITE_ONLY if engines.is_sqlite else {})
    went_through = []
    for name, statements in attempts.items():
        for way, execute in WAYS.items():
            try:
                execute(engines, statements)
            except REFUSED:
                continue
            went_through.append((name, way))
    assert went_through == []
    assert verify(engines) == []
    assert filled.head().revision == HEAD


def test_a_commit_that_is_refused_leaves_no_lock_behind(filled, engines):
    for _ in range(3):
        with pytest.raises(DatabaseError):
            on_the_service_s_own(engines, ATTEMPTS["a revision alone"])
    assert record(filled, a_price("16")) == HEAD + 1


def test_a_whole_revision_goes_through(filled, engines):
    on_a_bare_one(engines, WHOLE)
    assert filled.head().revision == HEAD + 1


def test_without_the_guards_each_attempt_goes_through(filled, engines):
    """But for one on SQLite, which has no way to take a check away."""
    take_guards_away(engines)
    with engines.write() as connection:
        connection.exec_driver_sql("DROP INDEX uq_supplier_version_beginning")
        if not engines.is_sqlite:
            connection.exec_driver_sql("ALTER TABLE supplier_version DROP CONSTRAINT "
                                       "ck_supplier_version_replaced_after_made")
    refused = []
    for name, statements in (ATTEMPTS | (SQLITE_ONLY if engines.is_sqlite else {})).items():
        try:
            on_a_bare_one(engines, statements, guarded=False)
        except REFUSED:
            refused.append(name)
    assert refused == (["a version replaced before it was made"] if engines.is_sqlite else [])


def another(column) -> str:
    """Another value for a column, as SQL."""
    if isinstance(column.type, Flag):
        return f"1 - {column.name}"
    if isinstance(column.type, Day | Instant):
        return "'2031-01-01'" if isinstance(column.type, Day) else "'2031-01-01T00:00:00.000000Z'"
    if isinstance(column.type, JsonText) or column.type.python_type is str:
        return f"COALESCE({column.name}, '') || 'x'"
    return f"COALESCE({column.name}, 0) + 1"


def test_no_column_of_history_can_be_changed_and_no_row_removed(filled, engines):
    """Every column that the tables have, so that one that comes later is guarded too."""
    for table in HISTORY:
        with engines.read() as connection:
            assert connection.exec_driver_sql(f"SELECT count(*) FROM {table.name}").scalar() > 0
        attempts = [f"UPDATE {table.name} SET {column.name} = {another(column)}" for column in table.c]
        for attempt in [*attempts, f"DELETE FROM {table.name}"]:
            with pytest.raises(DatabaseError, match=r"stands|append-only"):
                on_the_service_s_own(engines, [attempt])


def test_every_table_of_history_has_its_guards(engines):
    """A table that a migration makes anew on SQLite loses its triggers: it has to make them anew as well."""
    with engines.read() as connection:
        guarded = {table for name, table in guards_of(connection, engines.is_sqlite)
                   if name.endswith(("_stands", "_no_update", "_append_only"))}
    assert guarded >= {table.name for table in HISTORY} | {"access_key", "feed_link"}
    assert chain.ledger_head.c.promised.foreign_keys


def guards_lost(engines, database_url, scripts=None, since="0013"):
    """The guards that were there at a migration (when guards came about), and are not at the newest one."""
    migrate(database_url, since)
    with engines.read() as connection:
        before = set(guards_of(connection, engines.is_sqlite))
    migrate(database_url, scripts=scripts)
    with engines.read() as connection:
        return before - set(guards_of(connection, engines.is_sqlite))


def test_no_migration_since_has_lost_a_guard(engines, database_url):
    assert guards_lost(engines, database_url) == set()


def test_a_migration_that_makes_a_table_anew_and_forgets_its_guards_is_found(sqlite_url, tmp_path):
    """Each guard of the table, not the first alone: `_late`, `_kept` and `_ended` too."""
    scripts = next_release(tmp_path, '''with op.batch_alter_table("supplier_version", recreate="always"):
        pass''', newest_version())
    engines = open_engines(sqlite_url)
    lost = guards_lost(engines, sqlite_url, scripts)
    engines.dispose()
    assert lost == {(f"guard_supplier_version_{what}", "supplier_version")
                    for what in ("late", "kept", "stands", "ended")}


def test_what_the_head_was_asked_before_0016_is_asked_again_below_it_and_no_guard_is_lost_above(engines, database_url):
    """Down to 0015 the guards call what they called there, up again what they call now."""
    newest = called(engines)
    assert guards_lost(engines, database_url, since="0015") == set()
    assert called(engines) == newest
    migrate(database_url, "0015")
    told = called(engines)
    if not engines.is_sqlite:
        assert (told["guard_ledger_head_follows"], told["guard_revision_promised"]) == ("guard_head", "guard_promise")
        assert told.keys() == newest.keys()
    migrate(database_url)
    assert called(engines) == newest


def called(engines):
    """What each trigger of PostgreSQL calls."""
    if engines.is_sqlite:
        return {}
    with engines.read() as connection:
        return dict(connection.exec_driver_sql(
            "SELECT tgname, proname FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT tgisinternal").all())


def test_several_revisions_of_one_transaction_go_through_once_the_head_has_moved_to_the_last(filled, engines):
    """As a restore records them; and not before: PostgreSQL looks at each when the transaction commits."""
    later = (REVISION.format(number=HEAD + 2).replace(f"'{NEW}'", f"'{'ef' * 32}'")
             .replace(f"WHERE number = {HEAD}", f"WHERE number = {HEAD + 1}"))
    two = [NEXT, entry(HEAD + 1, 1), later, entry(HEAD + 2, 1)]
    moved = MOVED.replace(f"revision = {HEAD + 1}", f"revision = {HEAD + 2}").replace(NEW, "ef" * 32)
    for way in WAYS.values():
        for attempt in (two, [*two, MOVED], [*two, entry(HEAD + 2, 3), moved], [*two[:-1], moved]):
            with pytest.raises(REFUSED):
                way(engines, attempt)
    on_a_bare_one(engines, [*two, moved])
    assert filled.head().revision == HEAD + 2
    with engines.read() as connection:
        assert connection.exec_driver_sql("SELECT promised FROM ledger_head").scalar() == HEAD + 2


def test_a_revision_that_moves_no_figure_leaves_the_head_s_figures(filled, engines):
    """The newest of the ledger is of that sort; so is the next one here, at figures that are and are not the last."""
    quiet = NEXT.replace("request_id, 1, hash", "request_id, 0, hash")
    stays = f"UPDATE ledger_head SET revision = {HEAD + 1}, hash = '{NEW}'"
    for wrong in (MOVED, f"{stays}, figures_revision = 1", f"{stays}, figures_hash = '{NEW}'"):
        with pytest.raises(REFUSED):
            on_a_bare_one(engines, [quiet, entry(HEAD + 1, 1), wrong])
    on_a_bare_one(engines, [quiet, entry(HEAD + 1, 1), stays])
    assert filled.head().revision == HEAD + 1
