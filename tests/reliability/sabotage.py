"""Breaks the service on purpose, so that every check is seen to fail once.

The service knows nothing of it: a process of the tests changes what it has imported, and then runs the real thing
(launcher.py; gunicorn forks after the break). `test_sabotage.py` shows for each switch a part of the programme that
turns red.
"""

import contextlib
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import numpy as np
from sqlalchemy import event
from xlsxwriter.worksheet import Worksheet

from service.domain import rounding, settle
from service.persistence import (
    backup,
    database_faults,
    engines,
    postgresql_engine,
    remembering,
    sqlite_engine,
    verifying,
    verifying_tables,
    write_work,
)
from service.persistence.allowances import SqlBookings
from service.persistence.column_types import Millionths
from service.persistence.ledger import SqlLedger
from service.persistence.write_work import SqlWriteWork
from service.rest import api_keys, csv_answers, paging
from service.use_cases import asking_key, conditions, network_checks

Put = Callable[[Any, str, Any], None]
"""Puts a value in place of a member of a module, class or mapping."""


def unsafe_transactions(put: Put) -> None:
    """A write begins as a read: BEGIN on SQLite, READ COMMITTED without the head's lock on PostgreSQL."""
    opened = engines.open_engines

    def unlocked(*arguments: Any, **named: Any) -> Any:
        made = opened(*arguments, **named)

        @event.listens_for(made.writing, "before_cursor_execute", retval=True)
        def _weaker(_connection: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, _many: bool) -> Any:
            return statement.replace("BEGIN IMMEDIATE", "BEGIN").replace(" FOR UPDATE", ""), parameters

        return made

    everywhere(put, opened, unlocked)


def stale_decisions(put: Put) -> None:
    """What a write decides on is read before it holds the head's lock."""
    write = SqlLedger.write

    @contextlib.contextmanager
    def blindly(self: SqlLedger, *arguments: Any, **named: Any) -> Iterator[SqlWriteWork]:
        kitchen = self.kitchen(self.head().revision)
        with write(self, *arguments, **named) as work:
            work.kitchen = lambda: kitchen  # type: ignore[method-assign]
            yield work

    put(SqlLedger, "write", blindly)


def skipped_fsync(put: Put) -> None:
    """A commit is acknowledged before it is on the disk."""
    put(sqlite_engine.PRAGMAS, "synchronous", 1)
    put(postgresql_engine.SESSION, "synchronous_commit", "off")


def half_commit(put: Put) -> None:
    """A revision is committed with its entries, and what it records only a little later."""
    store = write_work.store_records

    def later(connection: Any, *arguments: Any) -> Any:
        connection.exec_driver_sql("COMMIT")
        time.sleep(0.02)
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        return store(connection, *arguments)

    put(write_work, "store_records", later)


def refused_commits_stay_open(put: Put) -> None:
    """A commit that the database refuses is not undone: on SQLite its lock goes back to the pool with it."""
    put(engines, "_nothing_left_open", lambda _connection: contextlib.nullcontext())


def a_full_disk_is_a_defect(put: Put) -> None:
    """Nobody knows what the database means when its disk is full."""
    put(database_faults, "_is_full", lambda _error: False)
    put(database_faults, "_is_our_mistake", lambda error, _not_now: "full" in str(error))


def lost_write(put: Put) -> None:
    """One write in twenty is acknowledged and never stored."""
    store = SqlWriteWork.store

    def seldom(self: SqlWriteWork) -> None:
        if self.head.revision % 20 != 19 or int(time.time() * 1000) % 2:
            store(self)

    put(SqlWriteWork, "store", seldom)


def lost_bump(put: Put) -> None:
    """A write does not move the head's figures revision: workers serve the figures that they have."""
    write = SqlLedger.write
    put(SqlLedger, "write", lambda self, asker, moves_figures=True: write(self, asker, False))


def no_if_match(put: Put) -> None:
    """Nobody looks at the condition of a write."""
    everywhere(put, conditions.hold_to, lambda *_: None)


def no_idempotency(put: Put) -> None:
    """No answer is kept: a repeated request is another one."""
    put(remembering, "remembered", lambda *_: None)
    put(remembering, "remember", lambda *_: None)


def no_scope_check(put: Put) -> None:
    """Every key opens everything."""
    put(api_keys, "_hold_to_scope", lambda *_: None)


def one_scope_changed(put: Put) -> None:
    """A till may retire breakdowns."""
    kept = api_keys.access_of

    def changed(app: Any) -> Mapping[str, str]:
        endpoint = next(rule.endpoint for rule in app.url_map.iter_rules()
                        if "DELETE" in rule.methods and rule.rule.startswith("/v1/breakdowns/"))
        return {**kept(app), endpoint: "costs:read"}

    put(api_keys, "access_of", changed)


def expired_keys_open(put: Put) -> None:
    """Nobody looks when a key ends."""
    kept = asking_key.who_asks
    put(asking_key, "who_asks", lambda ledger, secret, now: kept(ledger, secret, now - timedelta(days=36_500)))


def keys_found_by_their_id(put: Put) -> None:
    """A key opens by its id alone, whatever secret follows."""
    kept = asking_key.who_asks

    def by_id(ledger: Any, secret: str, now: Any) -> Any:
        found = next((key for key in ledger.every_key() if key.id == secret[5:13] and not key.revoked_at), None)
        return kept(ledger, secret, now)[0], found

    put(asking_key, "who_asks", by_id)


def unpinned_pages(put: Put) -> None:
    """A page is of the head, and not of the revision that its cursor keeps."""
    read = paging.Cursors.read

    def forgetful(self: Any, *arguments: Any, **named: Any) -> Any:
        cursor = read(self, *arguments, **named)
        return replace(cursor, revision=api_keys.caller().head.revision)

    put(paging.Cursors, "read", forgetful)


def unsigned_cursors(put: Put) -> None:
    """Nobody looks at a cursor's signature."""
    put(paging.Cursors, "_signature", lambda *_: b"0" * 16)


def allowances_apart(put: Put) -> None:
    """Each worker counts a key's minute by itself, as if nobody else gave any of it out."""
    booked: dict[tuple[str, int], int] = {}

    def alone(_self: Any, holder: str, minute: int, units: int) -> int:
        booked[holder, minute] = booked.get((holder, minute), 0) + units
        return booked[holder, minute]

    put(SqlBookings, "book", alone)


def no_loop_check(put: Put) -> None:
    """Nobody looks whether a recipe would contain itself, nor how deep it goes."""
    everywhere(put, network_checks.network_faults, lambda *_: ())


def float_rounding(put: Put) -> None:
    """Figures are rounded as floats are, from the float: no tie is settled exactly."""
    def as_floats(x: Any, *_: Any) -> Any:
        return np.rint(x), np.zeros(0, dtype=np.intp)

    def as_float(value: Any, places: int) -> Decimal:
        return Decimal(f"{round(float(value), places):.{places}f}")

    everywhere(put, settle.rounded, as_floats)
    everywhere(put, rounding.published, as_float)


def last_digits(put: Put) -> None:
    """PostgreSQL's amounts come back with two decimals."""
    whole = Millionths.process_result_value

    def cut(self: Millionths, value: Any, dialect: Any) -> Any:
        shorter = dialect.name == "postgresql" and value is not None
        return whole(self, value // 10_000 * 10_000 if shorter else value, dialect)

    put(Millionths, "process_result_value", cut)


def backup_without_one_view(put: Put) -> None:
    """A backup reads the head in one view, and each table in another, later one."""
    put(backup, "_write", _torn(backup._write))


def _torn(write: Any) -> Any:
    def written(connection: Any, *arguments: Any) -> Any:
        engine = connection.engine

        class _Later:
            """Each statement sees what is committed by then."""

            dialect = engine.dialect

            def execute(self, asked: Any) -> Any:
                time.sleep(0.03)
                with engine.connect() as fresh:
                    return fresh.execute(asked).freeze()()

            def execution_options(self, **_: Any) -> "_Later":
                return self

        return write(_Later(), *arguments)

    return written


class _Anything(str):
    """A hash that equals any other."""

    __slots__ = ()

    def __eq__(self, _other: object) -> bool:
        return True

    def __ne__(self, _other: object) -> bool:
        return False

    __hash__ = str.__hash__


def no_formula_guard(put: Put) -> None:
    """Text goes out as CSV as it was typed."""
    put(csv_answers, "_FORMULA_STARTS", ())


def texts_that_compute(put: Put) -> None:
    """A workbook takes text for what it looks like: a formula, a link, a number."""
    put(Worksheet, "write_string", lambda self, row, column, text, look=None: self.write(row, column, text, look))


def chain_not_hashed(put: Put) -> None:
    """Whoever verifies takes every hash for the right one."""
    put(verifying, "revision_hash", lambda *_: _Anything())


def rows_not_compared(put: Put) -> None:
    """Whoever verifies does not hold what rows say to what their entries say."""
    put(verifying_tables, "compared", lambda *_: iter(()))


SWITCHES: Mapping[str, Callable[[Put], None]] = {each.__name__: each for each in (
    unsafe_transactions, stale_decisions, skipped_fsync, half_commit, refused_commits_stay_open,
    a_full_disk_is_a_defect, lost_write, lost_bump, no_if_match, no_idempotency, no_scope_check, one_scope_changed,
    expired_keys_open, keys_found_by_their_id, unpinned_pages, unsigned_cursors, no_loop_check, float_rounding,
    last_digits, backup_without_one_view, no_formula_guard, texts_that_compute, chain_not_hashed, rows_not_compared,
    allowances_apart)}


def everywhere(put: Put, there: Any, instead: Any) -> None:
    """Put something in the place of a function in every module of the service that has imported it."""
    for module in [module for name, module in sys.modules.items() if name.partition(".")[0] == "service"]:
        for name in [name for name, value in vars(module).items() if value is there]:
            put(module, name, instead)


def apply(switch: str) -> None:
    """Break the service in this process for good; no switch: leave it whole."""
    if switch:
        SWITCHES[switch](_put)


@contextlib.contextmanager
def broken(switch: str) -> Iterator[None]:
    """Break the service in this process until the block is left."""
    before: list[tuple[Any, str, Any]] = []

    def put(owner: Any, name: str, value: Any) -> None:
        before.append((owner, name, _held(owner, name)))
        _put(owner, name, value)

    if switch:
        SWITCHES[switch](put)
    try:
        yield
    finally:
        for owner, name, value in reversed(before):
            _put(owner, name, value)


_NONE = object()


def _held(owner: Any, name: str) -> Any:
    return owner.get(name, _NONE) if isinstance(owner, dict) else vars(owner)[name]


def _put(owner: Any, name: str, value: Any) -> None:
    if not isinstance(owner, dict):
        setattr(owner, name, value)
    elif value is _NONE:
        del owner[name]
    else:
        owner[name] = value
