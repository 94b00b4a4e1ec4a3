"""Backup and restore: one portable file for both engines, so that a SQLite ledger can move to PostgreSQL.

The file is JSON lines, compressed with gzip when its name ends in `.gz`:

1. `{"format":"seamcost-ledger","version":1,"schema":...,"revision":...,"hash":...}`;
2. for each table with rows, in an order in which references point backwards, `{"table":...,"columns":[...]}` and then
   an array per row: amounts as decimal text, days and moments per RFC 3339;
3. `{"rows":...,"sha256":...}`: how many rows, and the hash of all lines before, so that a file cut short is known.

Rules that always hold: it is one consistent view of the ledger, taken while others write; documents are the very text
that was hashed. Left out are the signing secret, the idempotency rows and what was leased of allowances: cursors and
Idempotency-Keys of before a restore do not hold after it. Webhooks are in it, their secrets and what they were told are
not: after a restore nothing is told again, and each webhook waits for a secret. Key hashes, prices and costs are in the
file: keep it as safe as the ledger.
"""

import gzip
import hashlib
import json
import os
from collections.abc import Callable, Generator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Connection, Result, Table, Text, select

from service.persistence.engines import Engines
from service.persistence.schema_fit import hold_to_own_schema, own_schema
from service.persistence.tables import allowances, chain, proposals, schema_support, webhooks
from service.persistence.tables.every_table import every_table
from service.use_cases.canonical import canonical_json

FORMAT, VERSION = "seamcost-ledger", 1
LEFT_OUT = (chain.signing_secret, chain.idempotency, allowances.allowance, schema_support.schema_support,
            *webhooks.NOT_IN_A_BACKUP)
_AT_ONCE = 2_000
_LARGE_AT_ONCE = 20

Progress = Callable[[int], None]
"""Told how many rows are done, now and then."""


@dataclass(frozen=True, slots=True)
class Written:
    """What a backup holds: so many rows, as of the head's revision and its hash."""

    rows: int
    revision: int
    hash: str


def untold(rows: int) -> None:
    """Nobody wants to know."""


def backup(engines: Engines, path: Path, progress: Progress = untold, prove: Callable[[Path], None] | None = None
           ) -> Written:
    """Write the whole ledger to a file, and say what it holds. The file appears, or takes the place of the one that is
    there, when it is complete, on the disk, and proven where there is a `prove`, which raises what is wrong with it.

    Raises:  LedgerUnavailable, OSError; what `prove` does.
    """
    unfinished = path.with_name(f".{path.stem}.{os.getpid()}{path.suffix}")
    try:
        written = write_unfinished(engines, unfinished, progress)
        if prove is not None:
            prove(unfinished)
        finish(unfinished, path)
    finally:
        unfinished.unlink(missing_ok=True)
    return written


def write_unfinished(engines: Engines, path: Path, progress: Progress) -> Written:
    """Write the whole ledger to a file that has not got its name yet.

    Raises:  LedgerUnavailable, OSError.
    """
    hold_to_own_schema(engines)
    with engines.one_view() as connection, opened(path, "wt") as file:
        return _write(connection, own_schema(connection), file, progress)


def finish(unfinished: Path, path: Path) -> None:
    """Give a file its name, once all of it is on the disk; the name is on the disk too when this returns."""
    with unfinished.open("rb") as written:
        os.fsync(written.fileno())
    unfinished.replace(path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def backup_tables() -> list[Table]:
    """The tables of a backup, in an order in which references point backwards."""
    return [table for table in every_table() if table not in LEFT_OUT]


def at_once(table: Table) -> int:
    """How many rows of a table are held in memory: few of the one whose rows are large."""
    return min(_LARGE_AT_ONCE, _AT_ONCE) if table is proposals.price_proposal_part else _AT_ONCE


def ledger_lines(connection: Connection, schema: str) -> Generator[str, None, None]:
    """The lines of a backup but for its last, of the ledger as a connection sees it: the same on both engines."""
    head = connection.execute(select(chain.ledger_head)).one()
    yield _line({"format": FORMAT, "version": VERSION, "schema": schema, "revision": head.revision, "hash": head.hash})
    for table in backup_tables():
        named = False
        with _streamed(connection, table) as rows:
            for row in rows:
                if not named:
                    yield _line({"table": table.name, "columns": list(table.c.keys())})
                    named = True
                yield _line(list(row))


def last_line(rows: int, digest: str) -> str:
    """What vouches for the lines before."""
    return json.dumps({"rows": rows, "sha256": digest}) + "\n"


def opened(path: Path, mode: str) -> IO[str]:
    """A backup's file, to be read or written."""
    if path.suffix == ".gz":
        return gzip.open(path, mode, encoding="utf-8", newline="\n")  # type: ignore[return-value]
    return path.open(mode, encoding="utf-8", newline="\n")


def _write(connection: Connection, schema: str, file: IO[str], progress: Progress) -> Written:
    head = connection.execute(select(chain.ledger_head)).one()
    digest, rows = hashlib.sha256(), 0
    for line in ledger_lines(connection, schema):
        digest.update(line.encode("utf-8"))
        file.write(line)
        if line.startswith("["):
            rows += 1
            if rows % _AT_ONCE == 0:
                progress(rows)
    file.write(last_line(rows, digest.hexdigest()))
    progress(rows)
    return Written(rows, head.revision, head.hash)


def _line(value: Any) -> str:
    return canonical_json(value) + "\n"


def _streamed(connection: Connection, table: Table) -> Result[Any]:
    """In the order of the key, of texts by their letters' numbers: a database's own order of them may be another."""
    own = connection.dialect.name == "postgresql"
    key = [column.collate("C") if own and isinstance(column.type, Text) else column
           for column in table.primary_key.columns]
    return connection.execution_options(yield_per=at_once(table)).execute(select(table).order_by(*key))
