"""What a database cannot do just now, told apart from our own mistakes, and by what it means for who asked.

Source:  PostgreSQL documentation, appendix A (error codes) and section 13.5 (serialization failure handling): 40001
         and 40P01 undo the whole transaction, which may be run again. SQLite documentation, "Result and Error Codes":
         SQLITE_CORRUPT, SQLITE_NOTADB.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from psycopg.errors import (
    DataCorrupted,
    DeadlockDetected,
    DiskFull,
    FeatureNotSupported,
    IndexCorrupted,
    InsufficientPrivilege,
    InvalidSchemaName,
    ObjectNotInPrerequisiteState,
    ReadOnlySqlTransaction,
    SerializationFailure,
    UndefinedColumn,
    UndefinedFile,
    UndefinedTable,
)
from sqlalchemy.exc import DatabaseError, DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from service.persistence import sqlite_engine
from service.use_cases.ledger_unavailable import (
    GrantMissing,
    LedgerDamaged,
    LedgerFull,
    LedgerNotMigrated,
    LedgerUnavailable,
    MayBeRecorded,
    OnlyReads,
    Undone,
)

_LACKING = ("no such table", "no such column", "has no column named")
NOT_NOW = ("locked", "busy", "full", "disk I/O", "unable to open", *_LACKING, "malformed", "not a database")
_READONLY = "readonly"
NOT_NOW_TO_WRITE = (*NOT_NOW, _READONLY)
"""On a connection that reads, an attempt to write is a mistake of ours; else the file is not to be written just now."""
_NOT_NOW_CLASSES = frozenset({"08", "28", "40", "53", "55", "57", "58", "72", "F0"})
"""Of PostgreSQL's codes: connections, who may connect, what was undone, what the server lacks, what stands in the way,
what its operator did, its system, a view that it has no more, its configuration. All others are about the statement."""
DAMAGED = (DataCorrupted, IndexCorrupted, UndefinedFile)
"""XX001, XX002, and 58P01: a file of a table or an index is not there any more."""
NOT_THERE = (UndefinedTable, UndefinedColumn)
"""42P01 and 42703: the schema is not this release's."""
NOT_GRANTED = (InsufficientPrivilege, InvalidSchemaName)
"""42501; and 3F000, which a role without USAGE on the schema of its search path gets where it creates something."""
_DAMAGED_SQLITE = ("disk image is malformed", "malformed database schema", "not a database")


@contextmanager
def database_faults(not_now: Sequence[str] = NOT_NOW_TO_WRITE) -> Iterator[None]:
    """What the database cannot do just now becomes LedgerUnavailable; a mistake of ours stays what it is."""
    try:
        yield
    except (DatabaseError, InterfaceError, PoolTimeout, sqlite_engine.driver().DatabaseError) as error:
        if _is_our_mistake(error, not_now):
            raise
        if _READONLY in not_now and _is_full(error):
            raise LedgerFull(f"There is no room for this on the database's disk: {_first_line(error)}") from error
        raise unavailable(error) from error


@contextmanager
def faults_of_a_commit() -> Iterator[None]:
    """A connection that is lost while it commits leaves open whether it did. Any other fault says that it did not."""
    try:
        yield
    except DBAPIError as error:
        if not error.connection_invalidated:
            raise
        raise MayBeRecorded(f"The database was lost while it committed: {_first_line(error)}") from error


def unavailable(error: Exception) -> LedgerUnavailable:
    """What an error of the database means for who asked."""
    cause = getattr(error, "orig", None) or error
    if isinstance(cause, NOT_GRANTED):
        return GrantMissing(f"The database does not let the service's role do this: {_first_line(error)}. Grant it to "
                            "the role: USAGE on the schema, and SELECT, INSERT, UPDATE and DELETE on all its tables; "
                            "`seamcost migrate` takes the role that owns them.")
    if is_damage(cause):
        return LedgerDamaged(f"The database finds its own files damaged: {_first_line(error)}. Keep them as they are, "
                             "and restore the newest backup that `seamcost verify` finds whole into a new database.")
    if isinstance(cause, NOT_THERE) or any(words in str(cause) for words in _LACKING):
        return LedgerNotMigrated(f"The database lacks a table or a column: {_first_line(error)}. "
                                 "Run `seamcost migrate`.")
    kind = LedgerUnavailable
    if isinstance(cause, SerializationFailure | DeadlockDetected):
        kind = Undone
    elif _only_reads(cause):
        kind = OnlyReads
    return kind(f"The database does not answer: {_first_line(error)}")


def needs_a_hand(error: Exception) -> bool:
    """Whether an error of the driver stays on every other connection, until somebody has mended what it says."""
    return isinstance(error, NOT_GRANTED) or is_damage(error)


def is_damage(cause: Exception) -> bool:
    """Whether an error of the driver says that the database's files are damaged."""
    sqlite = sqlite_engine.driver()
    return isinstance(cause, DAMAGED) or (type(cause) in (sqlite.OperationalError, sqlite.DatabaseError)
                                          and any(words in str(cause) for words in _DAMAGED_SQLITE))


def _is_full(error: Exception) -> bool:
    cause = getattr(error, "orig", None) or error
    return isinstance(cause, DiskFull) or (
        isinstance(cause, sqlite_engine.driver().OperationalError) and "disk is full" in str(cause))


def _is_our_mistake(error: Exception, not_now: Sequence[str]) -> bool:
    """SQLite calls nearly everything operational, and a file that is damaged or no database not even that; a table or
    column that is missing only says that `migrate` is due; and a connection that was ended never is our doing, whatever
    the server calls the reason. What PostgreSQL says is told by its code; what has none never reached it."""
    cause = getattr(error, "orig", None) or error
    if needs_a_hand(cause):
        return False
    sqlite = sqlite_engine.driver()
    if type(cause) in (sqlite.OperationalError, sqlite.DatabaseError):
        return not any(words in str(cause) for words in not_now)
    if isinstance(cause, sqlite.Error):
        return True
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        return False
    if _only_reads(cause):
        return _READONLY not in not_now
    if code := getattr(cause, "sqlstate", None):
        return code[:2] not in _NOT_NOW_CLASSES and not isinstance(cause, NOT_THERE)
    return not isinstance(error, OperationalError | InterfaceError | PoolTimeout)


def _only_reads(cause: Exception) -> bool:
    """Whether a PostgreSQL says that it is one to read from: a standby, or set so."""
    recovers = isinstance(cause, FeatureNotSupported | ObjectNotInPrerequisiteState) and "recovery" in str(cause)
    return recovers or isinstance(cause, ReadOnlySqlTransaction)


def _first_line(error: Exception) -> str:
    return (str(getattr(error, "orig", None) or error).splitlines() or [type(error).__name__])[0]
