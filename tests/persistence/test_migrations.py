"""Migrations: up, down and up again on filled data; nothing left to add; under a lock; WAL once."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import CheckConstraint, inspect, select

from service.domain.history import Version
from service.domain.kitchen_settings import SectionTarget
from service.domain.supplier import Supplier
from service.persistence import sqlite_engine
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.schema_fit import at_head, newest_version, schema_version
from service.persistence.tables import base, chain
from service.persistence.verifying import verify
from service.use_cases.documents import document
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.ports import Entry
from tests.builders import (
    A_DAY,
    a_dish,
    a_line,
    a_price,
    a_primal,
    a_recipe,
    a_seamed_topside,
    a_yield_test,
    an_item,
    some_settings,
)
from tests.persistence.writing import CHEF, record

EVERYTHING = [some_settings(), Supplier("fenmoor", "Fenmoor"), a_primal(preferred_supplier="fenmoor"),
              a_seamed_topside(), a_recipe("jus", a_line("cut topside-mince")),
              a_dish("plate", a_line("cut topside-cap"), a_line("recipe jus")), a_price(),
              a_yield_test("8.6", {"topside-cap": "0.742"}), an_item("10/2345", gtin="9521234567899")]


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


def test_settings_that_are_recorded_get_the_usual_limits_and_an_open_period(ledger, engines, database_url):
    """0004, on settings of three versions of which one was replaced; down it loses nothing but what it brought."""
    settings = some_settings(closed_through=date(2026, 1, 31), price_change_limit_percent="10")
    for number, start in enumerate((None, date(2026, 4, 1), date(2026, 4, 1))):
        record(ledger, replace(settings, labour_rate_per_hour=Decimal(20 + number)), start=start)
    before = ledger.kitchen(3).settings
    migrate(database_url, "0003")
    with engines.read() as connection:
        kept = connection.exec_driver_sql("SELECT * FROM kitchen_settings_version").mappings().all()
    assert {"labour_rate_per_hour", "price_step"} <= kept[0].keys()
    assert not kept[0].keys() & {"closed_through", "price_deviation_limit"}
    migrate(database_url)
    after = [SqlLedger(engines).kitchen(revision).settings for revision in (2, 3)]
    usual = [replace(one, record=replace(one.record, closed_through=None, price_change_limit_percent=Decimal(25)))
             for one in before]
    assert after[1] == tuple(usual)
    assert [one.record.labour_rate_per_hour for one in after[0]] == [Decimal(20), Decimal(21)]
    with engines.read() as connection:
        names = {index["name"] for index in inspect(connection).get_indexes("kitchen_settings_version")}
    assert names == {"ix_kitchen_settings_version_kitchen_settings_id", "uq_kitchen_settings_version_start",
                     "uq_kitchen_settings_version_beginning"}


def test_settings_that_are_recorded_have_no_targets_of_sections_and_their_entries_stay(ledger, engines, database_url):
    """0010: what was recorded before it stays as it was hashed, and reads as settings that name no section."""
    before = {name: value for name, value in document(some_settings()).items() if name != "section_targets"}
    with ledger.write(CHEF) as work:
        work.add_version("settings", "settings", Version(some_settings(), work.next_mark(
            Entry("keep", "settings", "settings", before))))
    record(ledger, some_settings(section_targets=(SectionTarget("grill", Decimal("28.5")),)), start=A_DAY)
    head = ledger.head()
    migrate(database_url, "0009")
    with engines.read() as connection:
        kept = connection.exec_driver_sql("SELECT * FROM kitchen_settings_version").mappings().all()
    assert "section_targets" not in kept[0]
    migrate(database_url)
    after = SqlLedger(engines).kitchen(2).settings
    assert [version.record for version in after] == [some_settings()] * 2
    assert (SqlLedger(engines).head(), verify(engines)) == (head, [])


def test_a_table_that_was_made_anew_is_as_strict_as_before(sqlite_url):
    connection = sqlite_engine.connect(Path(sqlite_url.removeprefix("sqlite:///")))
    made = connection.execute("SELECT wr, strict FROM pragma_table_list WHERE name IN "
                              "('kitchen_settings_version', 'supplier_item_version')").fetchall()
    connection.close()
    assert made == [(1, 1)] * 2


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
