"""Rows beside what belongs to them, streamed: the entry that made each, and its parts. Memory stays small."""

from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import Connection, Table, and_, select

from service.domain.history import Mark
from service.persistence.records.shelf import Codes, Parts
from service.persistence.tables import chain

AT_ONCE = 2_000
_MARK = itemgetter(0, 1)


def with_entries(connection: Connection, table: Table) -> Iterator[Any]:
    """The rows of a table in the order they were made, each with the entry that made it."""
    made, entry = (table.c.made_revision, table.c.made_entry), chain.entry.c
    asked = select(table, entry.kind.label("kind_of_entry"), entry.code.label("code_of_entry"),
                   entry.action, entry.document)
    return streamed(connection, asked.outerjoin_from(table, chain.entry, and_(
        entry.revision == made[0], entry.number == made[1])).order_by(*made))


class PartsBeside:
    """The parts of rows, streamed beside them; those of no row are left over."""

    def __init__(self, connection: Connection, parts: Parts | None) -> None:
        self._parts = parts
        self._stray: list[tuple[int, int]] = []
        self._groups: Iterator[tuple[tuple[int, int], list[Any]]] = iter(())
        if parts is not None:
            rows = streamed(connection, select(parts.table).order_by(*parts.table.primary_key.columns))
            self._groups = ((mark, list(group)) for mark, group in groupby(rows, _MARK))
        self._ahead = next(self._groups, None)

    def of(self, made: Mark, codes: Codes) -> tuple[Any, ...]:
        """The parts of the row that was made so; rows are asked for in the order they were made."""
        while self._ahead is not None and self._ahead[0] < (made.revision, made.entry):
            self._pass_by()
        if self._parts is None or self._ahead is None or self._ahead[0] != (made.revision, made.entry):
            return ()
        part, rows = self._parts.part, self._ahead[1]
        self._ahead = next(self._groups, None)
        return tuple([part(row, codes) for row in rows])

    def left_over(self) -> list[tuple[int, int]]:
        """The marks of parts whose row is not there."""
        while self._ahead is not None:
            self._pass_by()
        return self._stray

    def _pass_by(self) -> None:
        if self._ahead is not None:
            self._stray.append(self._ahead[0])
        self._ahead = next(self._groups, None)


def streamed(connection: Connection, asked: Any) -> Iterator[Any]:
    return iter(connection.execution_options(yield_per=AT_ONCE).execute(asked))
