"""The sales of a ledger in their tables.

Rules that always hold: of the sendings of one date one stands, and is replaced by a later revision, never erased; as
known at a revision they never change again.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, or_, select, update

from service.domain.history import Mark
from service.domain.sales import SaleKind, SalesDay, SalesLine
from service.persistence.engines import Engines
from service.persistence.row_storing import store_columns
from service.persistence.tables.sales import sales_day, sales_line

DATES_AT_A_TIME = 500
_day, _line = sales_day.c, sales_line.c
_KINDS = {kind.value: kind for kind in SaleKind}


class SqlSalesBook:
    """The `SalesBook` port."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines

    def recorded(self, first: date, last: date, known_at: int) -> Mapping[date, Mark]:
        with self._engines.read() as connection:
            return {row.business_date: Mark(row.made_revision, row.made_entry)
                    for row in _headings(connection, _known(first, last, known_at))}

    def days(self, first: date, last: date, known_at: int) -> Sequence[SalesDay]:
        with self._engines.read() as connection:
            return _read(connection, _known(first, last, known_at))


class SqlSalesWork:
    """The `SalesWork` port, on a connection that holds the head's lock."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._kept: dict[date, SalesDay] = {}

    def standing(self, days: Collection[date]) -> Mapping[date, SalesDay]:
        return {day.business_date: day for some in _some_at_a_time(days) for day in _read(
            self._connection, and_(_day.replaced_revision.is_(None), _day.business_date.in_(some)))}

    def keep(self, day: SalesDay) -> None:
        """Raises:  ValueError for a second sending of one date in one work."""
        if day.business_date in self._kept:
            raise ValueError(f"The sales of {day.business_date} are kept twice in one revision.")
        self._kept[day.business_date] = day

    def store(self, revision: int) -> None:
        """Store what was gathered, as made by `revision`."""
        days = list(self._kept.values())
        if not days:
            return
        for some in _some_at_a_time(self._kept):
            self._connection.execute(update(sales_day).where(
                _day.replaced_revision.is_(None), _day.business_date.in_(some)).values(replaced_revision=revision))
        store_columns(self._connection, sales_day, {
            "made_revision": [day.made.revision for day in days], "made_entry": [day.made.entry for day in days],
            "business_date": [day.business_date for day in days], "replaced_revision": [None] * len(days)})
        lines = [(day.made, position, line) for day in days for position, line in enumerate(day.lines, start=1)]
        if lines:
            store_columns(self._connection, sales_line, {
                "made_revision": [made.revision for made, _, _ in lines],
                "made_entry": [made.entry for made, _, _ in lines],
                "position": [position for _, position, _ in lines],
                "pos_code": [line.pos_code for _, _, line in lines],
                "quantity": [line.quantity for _, _, line in lines],
                "net_takings": [line.net_takings for _, _, line in lines],
                "kind": [line.kind.value for _, _, line in lines]})


def _some_at_a_time(days: Collection[date]) -> Iterator[Sequence[date]]:
    asked = sorted(days)
    return (asked[start:start + DATES_AT_A_TIME] for start in range(0, len(asked), DATES_AT_A_TIME))


def _known(first: date, last: date, known_at: int) -> ColumnElement[bool]:
    return and_(_day.business_date.between(first, last), _day.made_revision <= known_at,
                or_(_day.replaced_revision.is_(None), _day.replaced_revision > known_at))


def _headings(connection: Connection, which: ColumnElement[bool]) -> Sequence[Any]:
    return connection.execute(
        select(_day.business_date, _day.made_revision, _day.made_entry).where(which).order_by(_day.business_date)).all()


def _read(connection: Connection, which: ColumnElement[bool]) -> list[SalesDay]:
    """The days with their lines: two statements, however many days."""
    rows = connection.execute(
        select(_line.made_revision, _line.made_entry, _line.pos_code, _line.quantity, _line.net_takings, _line.kind)
        .join(sales_day, and_(_day.made_revision == _line.made_revision, _day.made_entry == _line.made_entry))
        .where(which).order_by(_line.made_revision, _line.made_entry, _line.position))
    lines = {Mark(*made): tuple(SalesLine(code, quantity, takings, _KINDS[kind])
                                for _, _, code, quantity, takings, kind in of_day)
             for made, of_day in groupby(rows, lambda row: (row[0], row[1]))}
    return [SalesDay(row.business_date, lines.get(mark, ()), mark) for row in _headings(connection, which)
            for mark in (Mark(row.made_revision, row.made_entry),)]
