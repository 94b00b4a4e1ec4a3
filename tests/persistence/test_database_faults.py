"""What each thing that a database can say becomes for who asked: a table of PostgreSQL's codes, and SQLite's words.

Source: PostgreSQL documentation, appendix A, "PostgreSQL Error Codes"; the driver's classes are made from it. SQLite
documentation, "Result and Error Codes".
"""

import psycopg
import pytest
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import DBAPIError

from service.persistence import sqlite_engine
from service.persistence.database_faults import NOT_NOW, NOT_NOW_TO_WRITE, database_faults
from service.persistence.quick_statements import Quick
from service.use_cases.ledger_unavailable import (
    GrantMissing,
    LedgerDamaged,
    LedgerFull,
    LedgerNotMigrated,
    LedgerUnavailable,
    NeedsAHand,
    OnlyReads,
    Undone,
)

GONE, OURS = LedgerUnavailable, DBAPIError
CODES = {  # what it becomes to who writes, and to who reads where that is another
    "08000": ("connection_exception", GONE), "08003": ("connection_does_not_exist", GONE),
    "08006": ("connection_failure", GONE), "08P01": ("protocol_violation", GONE),
    "0A000": ("feature_not_supported", OURS),
    "22003": ("numeric_value_out_of_range", OURS), "22P02": ("invalid_text_representation", OURS),
    "23503": ("foreign_key_violation", OURS), "23505": ("unique_violation", OURS),
    "25006": ("read_only_sql_transaction", OnlyReads, OURS), "25P02": ("in_failed_sql_transaction", OURS),
    "28000": ("invalid_authorization_specification", GONE), "28P01": ("invalid_password", GONE),
    "40001": ("serialization_failure", Undone), "40P01": ("deadlock_detected", Undone),
    "3F000": ("invalid_schema_name", GrantMissing),
    "42501": ("insufficient_privilege", GrantMissing), "42601": ("syntax_error", OURS),
    "42703": ("undefined_column", LedgerNotMigrated), "42P01": ("undefined_table", LedgerNotMigrated),
    "53000": ("insufficient_resources", GONE), "53100": ("disk_full", LedgerFull, GONE),
    "53200": ("out_of_memory", GONE), "53300": ("too_many_connections", GONE),
    "53400": ("configuration_limit_exceeded", GONE),
    "54001": ("statement_too_complex", OURS), "54023": ("too_many_arguments", OURS),
    "55000": ("object_not_in_prerequisite_state", GONE), "55006": ("object_in_use", GONE),
    "55P03": ("lock_not_available", GONE),
    "57014": ("query_canceled", GONE), "57P01": ("admin_shutdown", GONE), "57P02": ("crash_shutdown", GONE),
    "57P03": ("cannot_connect_now", GONE), "57P04": ("database_dropped", GONE),
    "58000": ("system_error", GONE), "58030": ("io_error", GONE), "58P01": ("undefined_file", LedgerDamaged),
    "72000": ("snapshot_too_old", GONE), "P0001": ("raise_exception", OURS),
    "XX000": ("internal_error", OURS), "XX001": ("data_corrupted", LedgerDamaged),
    "XX002": ("index_corrupted", LedgerDamaged),
}
ENDED = {"25P03": "idle_in_transaction_session_timeout", "25P04": "transaction_timeout",
         "57P01": "admin_shutdown", "57P05": "idle_session_timeout"}
SQLITE = {
    "database disk image is malformed": LedgerDamaged, "file is not a database": LedgerDamaged,
    "malformed database schema (price)": LedgerDamaged, "database is locked": GONE, "disk I/O error": GONE,
    "unable to open database file": GONE, "database or disk is full": LedgerFull,
    "no such table: price": LedgerNotMigrated, "no such column: price.x": LedgerNotMigrated,
    "table price has no column named x": LedgerNotMigrated, "near \"SELEC\": syntax error": OURS,
    "malformed JSON": GONE,
}


def becomes(dialect, error, base, not_now, ended=False):
    """The kind of what comes out, for an error of the driver."""
    told = DBAPIError.instance("SELECT 1", {}, error, base, dialect=dialect, connection_invalidated=ended)
    with pytest.raises((LedgerUnavailable, DBAPIError)) as caught, database_faults(not_now):
        raise told
    return OURS if isinstance(caught.value, DBAPIError) else type(caught.value)


def of_postgresql(code, not_now, ended=False):
    return becomes(postgresql.dialect(), psycopg.errors.lookup(code)("what it says"), psycopg.Error, not_now, ended)


@pytest.mark.parametrize("code", CODES)
def test_what_a_code_of_postgresql_becomes(code):
    name, writing, *reading = CODES[code]
    assert psycopg.errors.lookup(code) is psycopg.errors.lookup(name.upper()), "the name that appendix A has for it"
    assert of_postgresql(code, NOT_NOW_TO_WRITE) is writing
    assert of_postgresql(code, NOT_NOW) is (reading or [writing])[0]


@pytest.mark.parametrize("code", ENDED)
def test_a_session_that_was_ended_is_gone_whatever_its_code(code):
    assert psycopg.errors.lookup(code) is psycopg.errors.lookup(ENDED[code].upper())
    assert of_postgresql(code, NOT_NOW_TO_WRITE, ended=True) is GONE


def test_a_standby_that_recovers_says_so_by_three_codes():
    """`LOCK TABLE` in a stronger mode, READ WRITE, and an attempt to write."""
    for code, said in (("55000", "cannot acquire lock mode RowExclusiveLock on database objects while recovery is in "
                        "progress"), ("0A000", "cannot set transaction read-write mode during recovery"),
                       ("25006", "cannot execute INSERT in a read-only transaction")):
        error = psycopg.errors.lookup(code)(said)
        assert becomes(postgresql.dialect(), error, psycopg.Error, NOT_NOW_TO_WRITE) is OnlyReads, code


@pytest.mark.parametrize("said", SQLITE)
def test_what_sqlite_says_becomes(said):
    driver = sqlite_engine.driver()
    kind = driver.DatabaseError if "malformed" in said or "not a" in said else driver.OperationalError
    assert becomes(sqlite.dialect(), kind(said), driver.Error, NOT_NOW_TO_WRITE) is SQLITE[said]


@pytest.mark.parametrize("error", [psycopg.errors.InsufficientPrivilege("permission denied for table access_key"),
                                   psycopg.errors.DataCorrupted("invalid page in block 0"),
                                   psycopg.errors.IndexCorrupted("unexpected zero page at block 1"),
                                   sqlite_engine.driver().DatabaseError("database disk image is malformed")])
def test_a_quick_statement_that_needs_a_hand_is_not_tried_on_another_connection(error):
    asked = []

    class Kept:
        def execute(self, *_):
            asked.append(self)
            raise error

        def close(self):
            """Nothing to close."""

    quick = Quick(Kept, (type(error),))
    quick._idle.extend([Kept(), Kept()])
    with pytest.raises(NeedsAHand, match=r"Grant it to the role|restore the newest backup"):
        quick.one("SELECT 1", ())
    assert (len(asked), len(quick._idle)) == (1, 1)
