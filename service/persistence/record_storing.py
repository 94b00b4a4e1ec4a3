"""Storing the records of one revision: in few statements, however many records."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Connection, Table, bindparam, update

from service.domain.history import Version
from service.domain.price import Price, Withdrawal
from service.domain.yield_test import YieldTest
from service.persistence.numbering import CodesNamed, CodesNumbered, Numbers
from service.persistence.records.price import price_columns
from service.persistence.records.shelf import Ids, Shelf, Values
from service.persistence.records.shelves import SHELVES
from service.persistence.records.yield_test import weighed_rows, yield_test_row
from service.persistence.row_storing import store_columns, store_rows
from service.persistence.tables import observed

Versions = list[tuple[str, Version[Any]]]


@dataclass
class Gathered:
    """What one work is to record, in the order it was given."""

    versions: list[tuple[str, str, Version[Any]]] = field(default_factory=list)
    prices: list[Price] = field(default_factory=list)
    withdrawn: list[Price] = field(default_factory=list)
    yield_tests: list[YieldTest] = field(default_factory=list)
    set_aside: list[YieldTest] = field(default_factory=list)


def store_records(connection: Connection, revision: int, gathered: Gathered, known: Numbers) -> None:
    """Store what was gathered as made by `revision`, under the ledger's lock. `known` are numbers read before.

    Raises:  UnknownIdentity when something refers to what was never recorded.
    """
    codes = CodesNamed()
    _rows(gathered, revision, codes)
    codes.every("ingredient", [price.ingredient for price in gathered.prices])
    codes.every("supplier", [price.supplier for price in gathered.prices])
    ids = CodesNumbered(connection, codes, known)
    for table, rows in _rows(gathered, revision, ids):
        if table.name.endswith("_version"):
            _mark_replaced(connection, table, rows)
        store_rows(connection, table, rows)
    if gathered.prices:
        store_columns(connection, observed.price, price_columns(gathered.prices, ids))
    _take_back(connection, observed.price, "withdrawn", [(one.made, one.withdrawn) for one in gathered.withdrawn])
    _take_back(connection, observed.yield_test, "set_aside", [(one.made, one.set_aside) for one in gathered.set_aside])


def _rows(gathered: Gathered, revision: int, ids: Ids) -> list[tuple[Table, list[Values]]]:
    """The rows of every table but that of prices, versions before their parts; tables without rows left out."""
    tables: list[tuple[Table, list[Values]]] = []
    for kind, shelf in SHELVES.items():
        versions = [(code, version) for of_kind, code, version in gathered.versions if of_kind == kind]
        tables.append((shelf.versions, _version_rows(shelf, versions, revision, ids)))
        if shelf.parts is not None:
            parts = [part for _, one in versions for part in _part_rows(one.made, shelf.parts.rows(one.record, ids))]
            tables.append((shelf.parts.table, parts))
    tables.append((observed.yield_test, [yield_test_row(test, ids) for test in gathered.yield_tests]))
    weighed = [part for test in gathered.yield_tests for part in _part_rows(test.made, weighed_rows(test, ids))]
    tables.append((observed.yield_test_output, weighed))
    return [(table, rows) for table, rows in tables if rows]


def _version_rows(shelf: Shelf, versions: Versions, revision: int, ids: Ids) -> list[Values]:
    """A version that a later one of the same work takes the place of is recorded as replaced at once."""
    last = {(code, version.effective_from): version.made for code, version in versions}
    return [
        {
            "made_revision": version.made.revision,
            "made_entry": version.made.entry,
            shelf.identity_column: ids.made(shelf.identity.name, code),
            "replaced_revision": None if last[code, version.effective_from] == version.made else revision,
            "effective_from": version.effective_from,
            "retired": version.retired,
            **shelf.row(version.record, ids),
        }
        for code, version in versions
    ]


def _part_rows(made: Any, rows: list[Values]) -> list[Values]:
    return [
        {"made_revision": made.revision, "made_entry": made.entry, "position": position, **row}
        for position, row in enumerate(rows, start=1)
    ]


def _mark_replaced(connection: Connection, versions: Table, rows: list[Values]) -> None:
    """Mark the versions with the same start as replaced by this revision."""
    owner = versions.c[versions.name.removesuffix("_version") + "_id"]
    replaced = update(versions).where(versions.c.replaced_revision.is_(None), owner == bindparam("of"))
    replaced = replaced.values(replaced_revision=bindparam("by"))
    dated: list[Values] = []
    undated: list[Values] = []
    for row in rows:
        start: date | None = row["effective_from"]
        which = {"of": row[owner.name], "by": row["made_revision"]}
        (undated if start is None else dated).append(which if start is None else which | {"start": start})
    if undated:
        connection.execute(replaced.where(versions.c.effective_from.is_(None)), undated)
    if dated:
        connection.execute(replaced.where(versions.c.effective_from == bindparam("start")), dated)


def _take_back(connection: Connection, table: Table, word: str, taken: list[tuple[Any, Withdrawal | None]]) -> None:
    for made, withdrawal in taken:
        if withdrawal is None:
            continue
        held = connection.execute(
            update(table)
            .where(table.c.made_revision == made.revision, table.c.made_entry == made.entry,
                   table.c[f"{word}_revision"].is_(None))
            .values({f"{word}_revision": withdrawal.made.revision, f"{word}_entry": withdrawal.made.entry,
                     f"{word}_reason": withdrawal.reason}))
        if held.rowcount != 1:
            raise LookupError(f"{table.name} {made.revision}-{made.entry} is not there to be taken back.")
