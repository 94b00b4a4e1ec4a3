"""Storing the rows of a table: many at once, by the shortest way that the driver has.

On SQLite one prepared statement takes them all, with what every row repeats written into it; PostgreSQL copies them.
Checks, references and triggers hold as they do for any other row.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import psycopg
from sqlalchemy import Connection, Dialect, Table
from sqlalchemy.exc import DBAPIError

from service.persistence.column_types import Millionths, all_to_millionths

MANY = 50
"""From so many rows on it pays to write into the statement what they repeat; below, the statement stays prepared."""

Columns = Mapping[str, Sequence[Any]]
"""The values of each column, in the order of the rows. Columns that are not named are left to the database."""


def store_rows(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Store rows that name the same columns.

    Raises:  AmountDoesNotFit; what the database refuses is a sqlalchemy.exc.DBAPIError.
    """
    if rows:
        store_columns(connection, table, {name: [row[name] for row in rows] for name in rows[0]})


def store_columns(connection: Connection, table: Table, columns: Columns) -> None:
    """Store rows, of which there is at least one, given column by column.

    Raises:  AmountDoesNotFit; what the database refuses is a sqlalchemy.exc.DBAPIError.
    """
    dialect = connection.dialect
    bound = {name: _bound(table.c[name].type, values, dialect) for name, values in columns.items()}
    quote = dialect.identifier_preparer.quote
    into = f"{quote(table.name)} ({', '.join(map(quote, bound))})"
    if dialect.name == "sqlite":
        _insert(connection, into, list(bound.values()))
    else:
        _copy(connection, into, list(bound.values()))


def _bound(kind: Any, values: Sequence[Any], dialect: Dialect) -> Sequence[Any]:
    """The values of a column as the driver takes them."""
    if isinstance(kind, Millionths):
        return all_to_millionths(values)
    bind = kind.dialect_impl(dialect).bind_processor(dialect)
    if bind is None:
        return values
    if isinstance(values[0], date) and _repeated(values):
        return [bind(values[0])] * len(values)
    return [bind(value) for value in values]


def _repeated(values: Sequence[Any]) -> bool:
    return bool(values[0] == values[-1]) and values.count(values[0]) == len(values)


def _insert(connection: Connection, into: str, columns: list[Sequence[Any]]) -> None:
    written = [_written(values) for values in columns]
    bound = [values for values, text in zip(columns, written, strict=True) if text == "?"]
    connection.exec_driver_sql(
        f"INSERT INTO {into} VALUES ({', '.join(written)})", list(zip(*bound, strict=True)))  # noqa: S608


def _written(values: Sequence[Any]) -> str:
    """How a column stands in the statement: nothing, or one whole number, as it is where many rows repeat it."""
    first = values[0]
    if len(values) >= MANY and (first is None or type(first) is int) and _repeated(values):
        return "NULL" if first is None else str(first)
    return "?"


def _copy(connection: Connection, into: str, columns: list[Sequence[Any]]) -> None:
    driver_connection: Any = connection.connection.driver_connection
    statement = f"COPY {into} FROM STDIN"
    try:
        with driver_connection.cursor() as cursor, cursor.copy(statement) as copy:
            for row in zip(*columns, strict=True):
                copy.write_row(row)
    except psycopg.Error as error:
        raise DBAPIError.instance(statement, None, error, psycopg.Error, dialect=connection.dialect) from error
