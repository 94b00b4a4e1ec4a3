"""SQLite, made to keep its promises: whole transactions, durable commits, foreign keys, triggers that hold.

Rules that always hold: the driver never begins a transaction by itself; writers begin with BEGIN IMMEDIATE, and who has
waited longest looks most often; readers are on connections that cannot write; every pragma is read back; the
write-ahead log is switched on by `migrate` alone, here it is only checked. One copy of SQLite per process: every
connection goes through `driver()`.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic, sleep
from types import ModuleType
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import QueuePool

from service.use_cases.ledger_unavailable import LedgerNotMigrated

try:
    from pysqlite3 import dbapi2 as _driver
except ImportError:
    _driver = sqlite3

PRAGMAS = {
    "foreign_keys": 1,
    "synchronous": 2,
    "busy_timeout": 5000,
    "recursive_triggers": 1,
    "trusted_schema": 0,
    "cell_size_check": 1,
    "wal_autocheckpoint": 4000,
}
"""The log is copied into the file when it has 4 000 pages: at the usual 1 000 every commit of a long price list (some
2 000) would wait for that too. Up to 4 062 are found through one block of the log's index, so readers lose nothing.

Source:  https://www.sqlite.org/walformat.html, "The WAL-Index File Format": 4 062 entries in the first block.
"""
_BUSY = 5
"""SQLITE_BUSY, of which the extended result codes have the low byte."""
_FIRST_PAUSE_SECONDS = 0.005
_BACKPORTED = ((3, 50, 7), (3, 44, 6))


def driver() -> ModuleType:
    """The one DB-API module for SQLite in this process: pysqlite3 where its wheel exists, else the standard one."""
    module: ModuleType = _driver
    return module


def safe_for_several_processes(version: tuple[int, ...] | None = None) -> bool:
    """Whether this SQLite is free of the write-ahead-log reset bug, so that several processes may share a file.

    Source:  https://www.sqlite.org/wal.html, "The WAL-Reset Bug": in 3.7.0 to 3.51.2 but for 3.50.7 and 3.44.6.
    """
    version = version or driver().sqlite_version_info
    return version >= (3, 51, 3) or any(version[:2] == line[:2] and version >= line for line in _BACKPORTED)


def connect(path: Path, create: bool = False, autocommit_reader: bool = False) -> Any:
    """A connection of the driver with every pragma set and read back. It begins no transaction by itself.

    Raises:  LedgerNotMigrated when the file is missing, unless `create`; the driver's OperationalError.
    """
    if not create and not path.exists():
        raise LedgerNotMigrated(f"There is no database at {path}; run `seamcost migrate` once to make it.")
    uri = f"{path.absolute().as_uri()}?mode={'rwc' if create else 'rw'}"
    connection = driver().connect(uri, uri=True, isolation_level=None, check_same_thread=False, timeout=5)
    try:
        set_pragmas(connection)
        if autocommit_reader:
            _pragma(connection, "query_only", 1)
    except BaseException:
        connection.close()
        raise
    return connection


def set_pragmas(connection: Any) -> None:
    """Set what every connection needs, and read it back."""
    for name, value in PRAGMAS.items():
        _pragma(connection, name, value)


def check_write_ahead_log(connection: Any) -> None:
    """Refuse a database that `migrate` has not made ready.

    Raises:  LedgerNotMigrated.
    """
    mode = connection.execute("PRAGMA journal_mode").fetchone()[0]
    if mode != "wal":
        raise LedgerNotMigrated(f"The database is in journal mode {mode!r}; run `seamcost migrate` once to set it up.")


@contextmanager
def without_waiting(connection: Any, patience_ms: int) -> Iterator[float]:
    """For a while, fail soon where another writer is at work. Gives how many seconds it would have waited."""
    before = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    connection.execute(f"PRAGMA busy_timeout={patience_ms}").close()
    try:
        yield before / 1000
    finally:
        connection.execute(f"PRAGMA busy_timeout={before}").close()


def engine(path: Path, writes: bool, pool_size: int) -> Engine:
    """An engine whose transactions are BEGIN IMMEDIATE (`writes`), or reads on connections that cannot write."""

    def open_connection() -> Any:
        connection = connect(path, autocommit_reader=not writes)
        check_write_ahead_log(connection)
        return connection

    made = create_engine(
        "sqlite://", module=driver(), creator=open_connection, poolclass=QueuePool,
        pool_size=pool_size, max_overflow=pool_size, pool_timeout=10, hide_parameters=True)
    event.listen(made, "begin", begin_writing if writes else begin_reading)
    return made


def begin_reading(connection: Connection) -> None:
    """Begin a transaction that sees one state of the ledger."""
    connection.exec_driver_sql("BEGIN")


def begin_writing(connection: Connection) -> None:
    """Begin a transaction that has the lock of the only writer.

    SQLite, left to wait, looks ever more seldom, in the end ten times a second, so that whoever comes later is there
    first: of four writers amid many readers one waited five seconds in vain. Here who waits looks ever more often.
    """
    held: Any = connection.connection.driver_connection
    left_open, began = held.in_transaction, monotonic()
    with without_waiting(held, 0) as patience:
        while not left_open and (waited := monotonic() - began) < patience and _is_busy(held):
            sleep(pause_after(waited))
        if left_open or not held.in_transaction:  # what was left open is refused, and never written on
            connection.exec_driver_sql("BEGIN IMMEDIATE")  # its fault is told as that of any statement


def pause_after(waited: float) -> float:
    """Seconds until a writer that has waited so many looks again."""
    return _FIRST_PAUSE_SECONDS / (1 + 4 * waited)


def _is_busy(connection: Any) -> bool:
    """Whether another writer has the lock; where none has, it is taken now, unless there is a fault of another kind."""
    try:
        connection.execute("BEGIN IMMEDIATE").close()
    except driver().OperationalError as fault:
        return fault.sqlite_errorcode & 0xFF == _BUSY  # type: ignore[no-any-return]
    return False


def _pragma(connection: Any, name: str, value: int) -> None:
    connection.execute(f"PRAGMA {name}={value}").close()
    held = connection.execute(f"PRAGMA {name}").fetchone()[0]
    if held != value:
        raise LedgerNotMigrated(f"SQLite keeps {name} at {held} where {value} is needed.")
