"""Breaks the service on purpose, so that every check is seen to fail once.

The service knows nothing of it: a process of the tests changes what it has imported, and then runs the real thing
(launcher.py; gunicorn forks after the break). `test_sabotage.py` shows for each switch a part of the programme that
turns red.
"""

import contextlib
import csv
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from flask import Request
from sqlalchemy import event
from xlsxwriter.worksheet import Worksheet

from service import operating
from service.cli import gunicorn_server
from service.domain import business_day, rounding, settle
from service.integrations.delimited import rows
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
from service.persistence.quick_statements import Quick
from service.persistence.standing import Standing
from service.persistence.where_it_stands import Place
from service.persistence.write_work import SqlWriteWork
from service.rest import api_keys, csv_answers, paging, reading
from service.rest.fields.exact_field import ExactField
from service.rest.fields.numbers import ExactDecimal
from service.rest.json_numbers import NumberText
from service.settings import Settings, SettingWrong
from service.use_cases import asking_key, conditions, network_checks

Put = Callable[[Any, str, Any], None]
"""Puts a value in place of a member of a module, class or mapping."""


def unsafe_transactions(put: Put) -> None:
    """A write begins as a read: BEGIN on SQLite, READ COMMITTED without the head's lock on PostgreSQL."""
    put(sqlite_engine, "begin_writing", sqlite_engine.begin_reading)
    opened = engines.open_engines

    def unlocked(*arguments: Any, **named: Any) -> Any:
        made = opened(*arguments, **named)

        @event.listens_for(made.writing, "before_cursor_execute", retval=True)
        def _weaker(_connection: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, _many: bool) -> Any:
            return statement.replace(" FOR UPDATE", ""), parameters

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
    put(postgresql_engine, "SYNCHRONOUS_COMMIT", "'off'")


def half_commit(put: Put) -> None:
    """A revision is committed with its entries, and what it records only a little later."""
    store = write_work.store_records

    def later(connection: Any, *arguments: Any) -> Any:
        connection.exec_driver_sql("COMMIT")
        time.sleep(0.05)
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


def days_in_utc(put: Put) -> None:
    """The business day is that of UTC, wherever the kitchen stands and whenever its day starts."""
    everywhere(put, business_day.business_day, lambda now, *_: now.date())


def days_by_the_wall_clock(put: Put) -> None:
    """The business day is the wall clock's less the start of the day: an hour that comes twice is forgotten."""
    def by_the_wall(now: datetime, time_zone: str, start: str) -> date:
        hours, minutes = map(int, start.split(":"))
        return (now.astimezone(ZoneInfo(time_zone)) - timedelta(hours=hours, minutes=minutes)).date()

    everywhere(put, business_day.business_day, by_the_wall)


def days_go_back(put: Put) -> None:
    """Today is what a worker's own clock says, whatever day was written on already."""
    put(Standing, "today", lambda self, now: business_day.business_day(now, self.time_zone, self.business_day_start))


def any_decimal(put: Put) -> None:
    """A decimal is whatever Python's reads: NaN, 1E400, 1_000."""
    def read(self: ExactDecimal, value: Any) -> Decimal:
        try:
            number = Decimal(value.text if isinstance(value, NumberText) else value)
        except (InvalidOperation, TypeError, ValueError):
            raise self.refusal("not-a-decimal", "Give a decimal as text, such as '8.5'.") from None
        return self._within(number)

    put(ExactDecimal, "read", read)


def refusals_surprise(put: Put) -> None:
    """A value that cannot be read is told as Python tells it, and not as a field does."""
    put(ExactField, "refusal", lambda _self, _code, sentence: ValueError(sentence))


def last_of_two_names(put: Put) -> None:
    """Of a name that stands twice in a JSON object the last counts, as for most readers."""
    put(reading, "_object", dict)


def any_character(put: Put) -> None:
    """Nobody looks at the texts within JSON: half a surrogate pair, U+0000, NaN."""
    put(reading, "_text_faults", lambda *_: ())


def any_depth(put: Put) -> None:
    """Nobody looks how deep JSON is nested."""
    put(reading, "DEEPEST", 1_000_000)


def half_bodies(put: Put) -> None:
    """As much of a body as came is taken for all of it: a length is believed, and more than the limit cut off."""
    def as_it_came(request: Request, limit: int = reading.BODY_LIMIT) -> bytes:
        announced = request.content_length
        return reading._read(request.environ["wsgi.input"], limit if announced is None else announced)

    everywhere(put, reading.read_body, as_it_came)


def endless_patience(put: Put) -> None:
    """Nobody hangs up on a client that is silent."""
    put(gunicorn_server, "bound_silence", lambda _arbiter: None)


def last_row_lost(put: Put) -> None:
    """A row of a file counts once another follows it."""
    kept = rows.delimited_rows

    def but_the_last(*arguments: Any) -> Iterator[tuple[int, Sequence[str]]]:
        return (row for row, _ in pairwise(kept(*arguments)))

    everywhere(put, kept, but_the_last)


def lenient_quotes(put: Put) -> None:
    """Quotes that do not match are read as best they can be: one that is never closed takes the rest of the table."""
    def leniently(lines: Any, delimiter: str, **_: Any) -> Any:
        return csv.reader(lines, delimiter=delimiter)

    put(rows, "csv", SimpleNamespace(reader=leniently, Error=csv.Error))


def connections_left_open(put: Put) -> None:
    """Each request opens a connection to the database, and none is ever closed."""
    left: list[Any] = []

    def anew(self: Quick, statement: str, parameters: Sequence[Any]) -> Any:
        left.append(self.connect())
        return left[-1].execute(statement, parameters).fetchone()

    put(Quick, "one", anew)


def places_not_given_back(put: Put) -> None:
    """Who asks the database takes a place among those who may, and keeps it: soon there is none."""
    kept, taken = Quick._place, []

    def for_good(self: Quick) -> Any:
        taken.append(kept(self))
        taken[-1].__enter__()
        return contextlib.nullcontext()

    put(Quick, "_place", for_good)


def left_log_thrown_away(put: Put) -> None:
    """A start takes the log that a killed service left beside its SQLite file for rubbish."""
    _at_a_start(put, lambda left: left.unlink())


def left_log_believed(put: Put) -> None:
    """A start takes the log that a killed service left beside its SQLite file for one that runs."""
    def refuse(_left: Path) -> None:
        raise SettingWrong("Another service works on the database.")

    _at_a_start(put, refuse)


def _at_a_start(put: Put, deal_with: Callable[[Path], None]) -> None:
    kept = operating.place_of

    def place_of(settings: Settings) -> Place:
        log = Path(settings.database_url.removeprefix("sqlite:///") + "-wal")
        if log.exists() and log.stat().st_size:
            deal_with(log)
        return kept(settings)

    put(operating, "place_of", place_of)


SWITCHES: Mapping[str, Callable[[Put], None]] = {each.__name__: each for each in (
    unsafe_transactions, stale_decisions, skipped_fsync, half_commit, refused_commits_stay_open,
    a_full_disk_is_a_defect, lost_write, lost_bump, no_if_match, no_idempotency, no_scope_check, one_scope_changed,
    expired_keys_open, keys_found_by_their_id, unpinned_pages, unsigned_cursors, no_loop_check, float_rounding,
    last_digits, backup_without_one_view, no_formula_guard, texts_that_compute, chain_not_hashed, rows_not_compared,
    allowances_apart, days_in_utc, days_by_the_wall_clock, days_go_back, any_decimal, refusals_surprise,
    last_of_two_names, any_character, any_depth, half_bodies, endless_patience, last_row_lost, lenient_quotes,
    connections_left_open, places_not_given_back, left_log_thrown_away, left_log_believed)}


def everywhere(put: Put, there: Any, instead: Any) -> None:
    """Put something in the place of a function in every module of the service that has imported it."""
    for module in [module for name, module in sys.modules.items() if name.partition(".")[0] == "service"]:
        for name in [name for name, value in vars(module).items() if value is there]:
            put(module, name, instead)


def apply(switch: str) -> None:
    """Break the service in this process for good; no switch: leave it whole."""
    if switch:
        SWITCHES[switch](_put)


def statement(switch: str) -> str:
    """What a process of its own begins with to be broken for good; nothing, where it is to be left whole."""
    return f"from tests.reliability import sabotage; sabotage.apply({switch!r}); " if switch else ""


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
