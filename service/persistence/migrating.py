"""Bringing a database to the form that this release works on: once, under a lock, all of it or nothing.

Rules that always hold: several starts may call `migrate` at once, one does the work and the others find it done; on
SQLite the write-ahead log is switched on here and nowhere else, foreign keys are off while tables change and checked
before the change is kept (a table rebuilt with them on would empty the tables that point to it). The service itself
never migrates while it serves; it asks `at_head`.
"""

import time
from functools import cache
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, create_engine, event
from sqlalchemy.pool import NullPool

from service.persistence import postgresql_engine, sqlite_engine
from service.persistence.database_faults import database_faults
from service.persistence.engines import Engines, database, sqlite_file
from service.shipped_files import shipped_folder
from service.use_cases.ledger_unavailable import LedgerUnavailable

PATIENCE_SECONDS = 60.0
_MIGRATION_LOCK = 7_326_262_678
"""Any number that nothing else takes an advisory lock on."""


def migrate(database_url: str, revision: str = "head") -> None:
    """Bring the database to `revision`, creating a SQLite file that is missing.

    Raises:  LedgerUnavailable when the database is not to be had, DatabaseUrlWrong.
    """
    url = database(database_url)
    with database_faults():
        if url.get_backend_name() == "sqlite":
            _migrate_sqlite(sqlite_file(url), revision)
        else:
            engine = postgresql_engine.engine(url, 1)
            try:
                with engine.begin() as connection:
                    connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
                    connection.exec_driver_sql("SET LOCAL lock_timeout = 0")
                    connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_MIGRATION_LOCK})")
                    _run(connection, revision)
            finally:
                engine.dispose()


def at_head(engines: Engines) -> bool:
    """Whether the database has the form that this release works on.

    Raises:  LedgerUnavailable.
    """
    return schema_version(engines) == newest_version()


def schema_version(engines: Engines) -> str | None:
    """The migration that the database is at, or None before the first."""
    with engines.read() as connection:
        return MigrationContext.configure(connection).get_current_revision()


@cache
def newest_version() -> str | None:
    """The newest migration that this release brings."""
    return ScriptDirectory.from_config(alembic_config()).get_current_head()


def alembic_config() -> Config:
    """Alembic's settings, made here: there is no file to find."""
    config = Config()
    config.set_main_option("script_location", str(shipped_folder("migrations")).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def _migrate_sqlite(path: Any, revision: str) -> None:
    raw = _patient(lambda: _wal_connection(path))
    engine = create_engine("sqlite://", module=sqlite_engine.driver(), creator=lambda: raw, poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    with engine.connect() as connection:
        transaction = _patient(connection.begin)
        with transaction:
            _run(connection, revision)
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
            if broken:
                raise LedgerUnavailable(f"The migration would leave references to nothing: {broken[:5]}")


def _wal_connection(path: Any) -> Any:
    connection = sqlite_engine.connect(path, create=True)
    try:
        connection.execute("PRAGMA foreign_keys=OFF").close()
        # A table that is made anew is gone for a moment, and triggers of other tables ask for it.
        connection.execute("PRAGMA legacy_alter_table=ON").close()
        connection.execute("PRAGMA journal_mode=WAL").fetchone()
        sqlite_engine.check_write_ahead_log(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _patient(attempt: Any) -> Any:
    """Try again while another start is at work: switching to the write-ahead log ignores the busy time-out."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while True:
        try:
            return attempt()
        except Exception as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.02)


def _run(connection: Connection, revision: str) -> None:
    config = alembic_config()
    config.attributes["connection"] = connection
    current = MigrationContext.configure(connection).get_current_revision()
    if revision == "base" or (current is not None and revision != "head" and revision < current):
        command.downgrade(config, revision)
    else:
        command.upgrade(config, revision)
