"""Bringing a database to the form that this release works on: once, under a lock, all of it or nothing.

Rules that always hold: several starts may call `migrate` at once, one does the work and the others find it done; a
database that is newer and still works with this release is left as it is. On PostgreSQL the service goes on meanwhile:
no lock is waited for longer than two seconds, since whoever comes after a waiting ALTER waits behind it; the migration
is undone and tried again instead. On SQLite the write-ahead log is switched on here and nowhere else, foreign keys are
off while tables change and checked before the change is kept (a table rebuilt with them on would empty the tables that
point to it). The service itself never migrates while it serves; it asks whether the schema `fits`.
"""

import logging
import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import disk_usage
from typing import TypeVar

from psycopg.errors import DeadlockDetected, LockNotAvailable
from sqlalchemy import URL, Connection, create_engine, event
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import NullPool

from service.persistence import postgresql_engine, sqlite_engine
from service.persistence.database_faults import database_faults
from service.persistence.engines import database, sqlite_file
from service.persistence.schema_fit import newest_version, version_on
from service.use_cases.ledger_unavailable import LedgerFull, LedgerNotMigrated, LedgerUnavailable

PATIENCE_SECONDS = 60.0
LOCK_PATIENCE = "2s"
_MIGRATION_LOCK = 7_326_262_678
"""Any number that nothing else takes an advisory lock on."""
_INDEX_BYTES = 32_768
"""Of SQLite's write-ahead log, at least (sqlite.org/walformat.html, section 2)."""
_LOG = logging.getLogger("seamcost.migrating")

T = TypeVar("T")


def migrate(database_url: str, revision: str = "head", scripts: Path | None = None) -> None:
    """Bring the database to `revision`, creating a SQLite file that is missing. `scripts` are the migrations of another
    release.

    Raises:  LedgerUnavailable when the database is not to be had, or no moment is found at which its tables are free;
             LedgerNotMigrated when it is too new for this release, or cannot hold every character; DatabaseUrlWrong.
    """
    url = database(database_url)
    with database_faults():
        if url.get_backend_name() == "sqlite":
            path = sqlite_file(url)
            with _want_of_room_told(path):
                _migrate_sqlite(path, revision, scripts)
        else:
            _migrate_postgresql(url, revision, scripts)


def _migrate_postgresql(url: URL, revision: str, scripts: Path | None) -> None:
    engine = postgresql_engine.engine(url, 1)

    def attempt() -> None:
        with engine.begin() as connection:
            connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
            connection.exec_driver_sql("SET LOCAL lock_timeout = 0")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_MIGRATION_LOCK})")
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{LOCK_PATIENCE}'")
            _hold_to_unicode(connection)
            _run(connection, revision, scripts)

    try:
        _patient(attempt, _tables_are_held, 0.5)
    except OperationalError as error:
        if _tables_are_held(error):
            raise LedgerUnavailable(
                f"The migration found no moment in {PATIENCE_SECONDS:g} s at which its tables were free, and changed "
                "nothing. End what holds them (pg_stat_activity shows it), or try again later.") from error
        raise
    finally:
        engine.dispose()


def _hold_to_unicode(connection: Connection) -> None:
    encoding = connection.exec_driver_sql("SHOW server_encoding").scalar_one()
    if encoding != "UTF8":
        raise LedgerNotMigrated(f"The database's encoding is {encoding}, in which not every name can be written, and "
                                "it cannot be changed later. Create it with ENCODING 'UTF8'.")


def _tables_are_held(error: Exception) -> bool:
    held = isinstance(getattr(error, "orig", None), LockNotAvailable | DeadlockDetected)
    if held:
        _LOG.warning("the migration waits for tables that others hold, and changed nothing yet")
    return held


def _migrate_sqlite(path: Path, revision: str, scripts: Path | None) -> None:
    raw = _patient(lambda: _wal_connection(path), _is_locked, 0.01)
    engine = create_engine("sqlite://", module=sqlite_engine.driver(), creator=lambda: raw, poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    with engine.connect() as connection:
        transaction = _patient(connection.begin, _is_locked, 0.01)
        with transaction:
            changed = _run(connection, revision, scripts)
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(5) if changed else ()
            if broken:
                raise LedgerUnavailable(f"The migration would leave references to nothing: {broken}")


@contextmanager
def _want_of_room_told(path: Path) -> Iterator[None]:
    """Raises:  LedgerFull where the disk has no room for the index that a log is opened with, which SQLite calls an
    I/O error."""
    try:
        yield
    except (sqlite_engine.driver().OperationalError, OperationalError) as error:
        if "disk I/O error" in str(error) and disk_usage(path.parent).free < _INDEX_BYTES:
            raise LedgerFull("There is no room for this on the database's disk, not even for its log's index.") from (
                error)
        raise


def _wal_connection(path: Path) -> object:
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


def _is_locked(error: Exception) -> bool:
    """While another start is at work: switching to the write-ahead log ignores the busy time-out."""
    return "locked" in str(error)


def _patient(attempt: Callable[[], T], passes: Callable[[Exception], bool], pause_seconds: float) -> T:
    """Try again, after pauses of chance, while what is in the way `passes`."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while True:
        try:
            return attempt()
        except Exception as error:
            if not passes(error) or time.monotonic() > deadline:
                raise
            time.sleep(random.uniform(pause_seconds, 3 * pause_seconds))


def _run(connection: Connection, revision: str, scripts: Path | None) -> bool:
    """Whether anything was to be done: at most starts of the service nothing is, and alembic is not even imported."""
    if revision == "head" and version_on(connection) == newest_version(scripts):
        return False
    from service.persistence.running_migrations import run_migrations

    stays = run_migrations(connection, revision, scripts)
    if stays is not None:
        _LOG.warning("the database is newer than this release, works with it, and stays at migration %s", stays)
    return stays is None
