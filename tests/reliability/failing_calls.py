"""Has the n-th call of an application to its database fail, once or for good, and looks at what came of it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import psycopg
from sqlalchemy import event, select
from sqlalchemy.exc import OperationalError

from service.persistence import sqlite_engine
from service.persistence.engines import Engines, open_engines
from service.persistence.tables import allowances, chain
from service.persistence.tables.every_table import every_table

NOTED_IN_PASSING = ("last_used_at",)
"""Columns that a request may write whatever becomes of it."""


@dataclass
class Failing:
    """Counts what an application asks of its database, and fails from a call on: once, or for good."""

    engines: Engines
    at: int = 0
    for_good: bool = False
    count: int = 0
    failed: int = 0

    def begin(self, at: int, for_good: bool) -> None:
        self.at, self.for_good, self.count, self.failed = at, for_good, 0, 0

    def end(self) -> None:
        """Nothing fails from now on."""
        self.at = 0

    def call(self, *_: Any) -> None:
        self.count += 1
        if self.at and (self.count == self.at or (self.for_good and self.count > self.at)):
            self.failed += 1
            raise self.error()

    def error(self) -> Exception:
        if self.engines.is_sqlite:
            return OperationalError("", None, sqlite_engine.driver().OperationalError("disk I/O error"))
        return OperationalError("", None, psycopg.OperationalError("the connection is lost"))

    @contextmanager
    def watching(self) -> Iterator[None]:
        quick: Any = self.engines.quick
        ask = quick._ask

        def quick_ask(connection: Any, *arguments: Any) -> Any:
            try:
                self.call()
            except OperationalError as error:
                connection.close()  # as it does with one whose statement fails
                raise error.orig from error  # type: ignore[misc]
            return ask(connection, *arguments)

        events = [(engine, name) for engine in {self.engines.writing, self.engines.reading, self.engines.passing}
                  for name in ("before_cursor_execute", "commit")]
        for engine, name in events:
            event.listen(engine, name, self.call)
        quick._ask = quick_ask
        try:
            yield
        finally:
            quick._ask = ask
            for engine, name in events:
                event.remove(engine, name, self.call)

    def out(self) -> list[int]:
        """How many connections are out of each pool."""
        pools: list[Any] = [self.engines.writing.pool, self.engines.reading.pool, self.engines.passing.pool]
        return [pool.checkedout() for pool in pools]


class Looking:
    """Looks at a ledger on connections of its own, while those of the application fail."""

    def __init__(self, engines: Engines) -> None:
        self._engines = open_engines(engines.url.render_as_string(False), pool_size=1)

    def head(self) -> int:
        with self._engines.read() as connection:
            return int(connection.scalar(select(chain.ledger_head.c.revision)) or 0)

    def rows(self) -> dict[str, list[str]]:
        """Every row of every table, but for what is noted in passing."""
        with self._engines.read() as connection:
            return {table.name: sorted(repr(row) for row in connection.execute(
                select(*(column for column in table.c if column.name not in NOTED_IN_PASSING))))
                for table in every_table() if table is not allowances.allowance}

    def close(self) -> None:
        self._engines.dispose()
