"""Migrations: up, down and up again on filled data; nothing left to add; under a lock; WAL once."""

from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import CheckConstraint, inspect, select

from service.domain.supplier import Supplier
from service.persistence import sqlite_engine
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import at_head, migrate, newest_version, schema_version
from service.persistence.tables import base, chain
from service.persistence.verifying import verify
from service.use_cases.ledger_unavailable import LedgerUnavailable
from tests.builders import a_dish, a_line, a_price, a_primal, a_recipe, a_seamed_topside, a_yield_test, some_settings
from tests.persistence.writing import record

EVERYTHING = [some_settings(), Supplier("fenmoor", "Fenmoor"), a_primal(preferred_supplier="fenmoor"),
              a_seamed_topside(), a_recipe("jus", a_line("cut topside-mince")),
              a_dish("plate", a_line("cut topside-cap"), a_line("recipe jus")), a_price(),
              a_yield_test("8.6", {"topside-cap": "0.742"})]


def test_autogenerate_finds_nothing_to_add(engines):
    with engines.read() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, base.metadata) == []


def test_checks_have_the_same_names_on_both_engines_and_as_the_tables_say(engines):
    """Autogenerate does not look at checks, so they are compared by hand."""
    with engines.read() as connection:
        inspector = inspect(connection)
        held = {table: {one["name"] for one in inspector.get_check_constraints(table)}
                for table in inspector.get_table_names() if table != "alembic_version"}
    said = {table.name: {one.name for one in table.constraints if isinstance(one, CheckConstraint)}
            for table in base.metadata.sorted_tables}
    assert held == {table: {f"ck_{table}_{name}" if not name.startswith("ck_") else name for name in names}
                    for table, names in said.items()}
    assert sum(map(len, held.values())) > 60


def test_unique_indexes_on_versions_in_force_are_there(engines):
    with engines.read() as connection:
        names = {index["name"] for index in inspect(connection).get_indexes("dish_version") if index["unique"]}
    assert names >= {"uq_dish_version_start", "uq_dish_version_beginning"}


def test_up_down_and_up_on_filled_data(ledger, engines, database_url):
    record(ledger, *EVERYTHING)
    with engines.read() as connection:
        entries = connection.execute(select(chain.entry)).all()
    head = ledger.head()
    migrate(database_url, "0001")
    assert schema_version(engines) == "0001"
    with engines.read() as connection:
        assert "dish_version" not in inspect(connection).get_table_names()
        assert connection.execute(select(chain.entry)).all() == entries
    migrate(database_url)
    assert at_head(engines)
    assert ledger.head() == head
    assert verify(engines) == []
    migrate(database_url, "base")
    with engines.read() as connection:
        assert set(inspect(connection).get_table_names()) <= {"alembic_version"}
    migrate(database_url)
    fresh = SqlLedger(engines)
    assert fresh.head().revision == 0
    assert record(fresh, *EVERYTHING) == 1
    assert fresh.kitchen(1).dishes["plate"][0].record == EVERYTHING[5]


def test_a_second_migration_changes_nothing(ledger, engines, database_url):
    secret = ledger.signing_secret()
    migrate(database_url)
    assert SqlLedger(engines).signing_secret() == secret
    assert at_head(engines)


def test_migrations_are_numbered_in_their_order():
    files = sorted(Path(__file__).parents[2].glob("migrations/versions/*.py"))
    assert [path.name[:4] for path in files] == [f"{number:04}" for number in range(1, len(files) + 1)]
    assert newest_version() == files[-1].name[:4]


def test_a_database_that_was_not_migrated_is_not_at_head_and_not_served(bare_database_url):
    engines = open_engines(bare_database_url)
    try:
        with pytest.raises(LedgerUnavailable):
            SqlLedger(engines).head()
        if not engines.is_sqlite:
            assert not at_head(engines)
    finally:
        engines.dispose()


def test_a_sqlite_file_without_write_ahead_log_is_refused(tmp_path):
    path = tmp_path / "plain.db"
    connection = sqlite_engine.connect(path, create=True)
    connection.execute("CREATE TABLE t (x)")
    connection.close()
    engines = open_engines(f"sqlite:///{path}")
    try:
        with pytest.raises(LedgerUnavailable, match="seamcost migrate"), engines.read() as reading:
            reading.exec_driver_sql("SELECT 1")
    finally:
        engines.dispose()


def test_serving_never_creates_a_file(tmp_path):
    path = tmp_path / "nothing.db"
    engines = open_engines(f"sqlite:///{path}")
    with pytest.raises(LedgerUnavailable):
        SqlLedger(engines).head()
    engines.dispose()
    assert not path.exists()


def test_the_migrated_file_is_in_write_ahead_log(sqlite_url):
    connection = sqlite_engine.connect(Path(sqlite_url.removeprefix("sqlite:///")))
    assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    connection.close()
