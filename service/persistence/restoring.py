"""Restoring a backup into an empty ledger, of either engine: all of it, verified, or nothing.

Rules that always hold: a ledger that holds anything is never written over; what was restored is verified link by link
before it is kept, and gives the very lines of the file again; the file must be whole and of the same schema (restore
with the release that made it, then migrate). Whatever a file holds, it is restored as it is or called damaged, with the
table or the line where it is: nothing is taken for something that it only resembles.
"""

import hashlib
import json
import zlib
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, contextmanager
from datetime import date, datetime
from decimal import Decimal
from gzip import BadGzipFile
from itertools import zip_longest
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Connection, Integer, Table, func, select, update
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, ProgrammingError, StatementError

from service.persistence.backup import (
    FORMAT,
    VERSION,
    Progress,
    at_once,
    backup_tables,
    last_line,
    ledger_lines,
    opened,
    untold,
)
from service.persistence.column_types import Day, Flag, Instant, JsonText, Millionths
from service.persistence.engines import Engines
from service.persistence.row_storing import store_rows
from service.persistence.schema_fit import own_schema
from service.persistence.tables import chain
from service.persistence.verifying import verify_on

LONGEST_LINE = 64 * 1_048_576
"""Characters: above what the largest row of a backup holds, a part of a price list with its rows."""


class LedgerNotEmpty(Exception):
    """The ledger to restore into holds something already."""


class BackupDamaged(Exception):
    """The file is no backup, cut short, of another schema, or its chain does not hold."""


def restore(engines: Engines, path: Path, progress: Progress = untold) -> int:
    """Restore a backup into the migrated, empty ledger, and say at which revision it stands.

    Raises:  LedgerNotEmpty, BackupDamaged, LedgerUnavailable, OSError.
    """
    with engines.write() as connection:
        schema = own_schema(connection)
        if not engines.is_sqlite:
            connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
        connection.execute(select(chain.ledger_head).with_for_update())
        _refuse_unless_empty(connection)
        heading = _store(connection, _Lines(path), schema, progress)
        _move_head(connection, heading.pop("head", None))
        breaks = verify_on(connection, {})
        head = connection.execute(select(chain.ledger_head)).one_or_none()
        if breaks or head is None or (head.revision, head.hash) != (heading["revision"], heading["hash"]):
            told = breaks[0] if breaks else "the head is not the one that the file announces"
            raise BackupDamaged(f"The chain in {path.name} does not hold: {told}.")
        _hold_to_file(connection, schema, path)
        return int(heading["revision"])


class _Lines:
    """The file's lines, hashed as they are read; the last one must say so."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __iter__(self) -> Iterator[Any]:
        digest, rows, line = hashlib.sha256(), 0, ""
        for following in self.texts():
            if line:
                digest.update(line.encode("utf-8"))
                rows += line.startswith("[")
                yield self._parsed(line)
            line = following
        if line != last_line(rows, digest.hexdigest()):
            raise BackupDamaged(f"{self.path.name} is not whole: its last line does not vouch for the others.")

    def texts(self) -> Generator[str, None, None]:
        """The lines as they stand."""
        with opened(self.path, "rt") as file:
            while line := self._next(file):
                yield line

    def _next(self, file: IO[str]) -> str:
        try:
            line = file.readline(LONGEST_LINE)
        except (UnicodeDecodeError, EOFError, zlib.error, BadGzipFile) as fault:
            raise BackupDamaged(f"{self.path.name} cannot be read to its end: it was cut short or changed.") from fault
        if len(line) == LONGEST_LINE:
            raise BackupDamaged(f"{self.path.name} holds a line of more than {LONGEST_LINE:,} characters.")
        return line

    def _parsed(self, line: str) -> Any:
        try:
            return json.loads(line)
        except (ValueError, RecursionError):
            raise BackupDamaged(f"{self.path.name} holds a line that is no JSON.") from None


def _hold_to_file(connection: Connection, schema: str, path: Path) -> None:
    """Whatever a table or a column made of what it was given, the ledger must say what the file says.

    Raises:  BackupDamaged.
    """
    with closing(ledger_lines(connection, schema)) as again, closing(_Lines(path).texts()) as lines:
        for number, (given, held) in enumerate(zip_longest(lines, again), 1):
            if held is None and next(lines, None) is None:
                return  # the last line, which vouches for those before, was held to them
            if given != held:
                raise BackupDamaged(f"Line {number} of {path.name} is none that a ledger writes: it would be restored "
                                    "as something else.")


def _refuse_unless_empty(connection: Connection) -> None:
    for table in backup_tables():
        allowed = 1 if table is chain.ledger_head else 0
        if (connection.scalar(select(func.count()).select_from(table)) or 0) > allowed:
            raise LedgerNotEmpty(f"The ledger holds something already ({table.name}); restore into an empty one.")
    if connection.scalar(select(chain.ledger_head.c.revision)):
        raise LedgerNotEmpty("The ledger has revisions already; restore into an empty one.")


def _store(connection: Connection, lines: _Lines, schema: str, progress: Progress) -> dict[str, Any]:
    parts = iter(lines)
    heading = _checked_heading(next(parts, None), lines.path.name, schema)
    tables = {table.name: table for table in backup_tables()}
    keep: _Batch | None = None
    done = 0
    for part in parts:
        if isinstance(part, dict):
            done += keep.flush() if keep else 0
            table = _table(tables, part, lines.path.name)
            keep = _Batch(connection, table, part["columns"], heading if table is chain.ledger_head else None)
        elif keep is None:
            raise BackupDamaged(f"{lines.path.name} holds a row of no table.")
        elif keep.add(part):
            done += keep.flush()
            progress(done)
    done += keep.flush() if keep else 0
    progress(done)
    return heading


def _checked_heading(heading: Any, name: str, schema: str) -> dict[str, Any]:
    if not isinstance(heading, dict) or (heading.get("format"), heading.get("version")) != (FORMAT, VERSION):
        raise BackupDamaged(f"{name} is no backup of a ledger that this release can read.")
    if heading.get("schema") != schema:
        raise BackupDamaged(
            f"{name} was made at schema {heading.get('schema')}, this release works on {schema}; "
            "restore it with the release that made it, then migrate.")
    if type(heading.get("revision")) is not int or not isinstance(heading.get("hash"), str):
        raise BackupDamaged(f"{name} does not say at which revision it was made.")
    return heading


def _table(tables: dict[str, Table], part: dict[str, Any], name: str) -> Table:
    table = tables.get(str(part.get("table")))
    if table is None or list(table.c.keys()) != part.get("columns"):
        raise BackupDamaged(f"{name} holds a table that this release does not know: {part.get('table')!r}.")
    return table


def _move_head(connection: Connection, head: dict[str, Any] | None) -> None:
    """The head moves last, as it does for a write: until then what its revisions brought is let in."""
    if head is not None:
        with _damaged(chain.ledger_head):
            connection.execute(update(chain.ledger_head).values(head))


class _Batch:
    """Rows of one table on their way in; the head's one row is set aside in `aside`."""

    def __init__(self, connection: Connection, table: Table, columns: list[str], aside: dict[str, Any] | None) -> None:
        self._connection, self._table, self._columns, self._aside = connection, table, columns, aside
        self._read = [_reader(table.c[name].type) for name in columns]
        self._rows: list[dict[str, Any]] = []

    def add(self, values: list[Any]) -> bool:
        """Take a row; says whether it is time to flush."""
        if not isinstance(values, list) or len(values) != len(self._columns):
            raise BackupDamaged(f"A row of {self._table.name} has not as many values as columns.")
        with _damaged(self._table):
            self._rows.append({
                name: None if value is None else read(value)
                for name, read, value in zip(self._columns, self._read, values, strict=True)
            })
        return len(self._rows) >= at_once(self._table)

    def flush(self) -> int:
        rows, self._rows = self._rows, []
        if self._aside is not None:
            self._aside["head"] = rows[-1] if rows else None
        else:
            with _damaged(self._table):
                store_rows(self._connection, self._table, rows)
        return len(rows)


@contextmanager
def _damaged(table: Table) -> Iterator[None]:
    """What a table would not take, or no column reads, is a fault of the file.

    Raises:  BackupDamaged.
    """
    try:
        yield
    except (ValueError, TypeError, ArithmeticError, IntegrityError, DataError, ProgrammingError) as fault:
        raise BackupDamaged(f"A row of {table.name} is none that a ledger has.") from fault
    except StatementError as fault:
        if isinstance(fault, DBAPIError):
            raise
        raise BackupDamaged(f"A row of {table.name} is none that a ledger has.") from fault


def _reader(column_type: Any) -> Callable[[Any], Any]:
    """From the file's value to the column's."""
    readers: tuple[tuple[type, Callable[[Any], Any]], ...] = (
        (Millionths, Decimal), (Day, date.fromisoformat), (Instant, datetime.fromisoformat), (Flag, _exactly(bool)),
        (JsonText, lambda value: value), (Integer, _exactly(int)))
    return next((read for kind, read in readers if isinstance(column_type, kind)), _exactly(str))


def _exactly(kind: type) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if type(value) is not kind:
            raise TypeError(f"{type(value).__name__} where {kind.__name__} is due")
        return value

    return read
