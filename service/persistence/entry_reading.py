"""Reading the ledger's entries: the change feed, what happened to one record, which revision moved a figure."""

import json
from collections.abc import Collection
from datetime import date
from itertools import accumulate
from typing import Any

from sqlalchemy import Connection, Select, and_, func, literal, select, tuple_

from service.domain.history import Mark
from service.persistence.column_types import Flag
from service.persistence.hash_chain import GENESIS
from service.persistence.tables import chain
from service.use_cases.ports import RecordedEntry, RecordedRevision
from service.use_cases.timeline_port import FigureRevision

_revision, _entry = chain.revision.c, chain.entry.c
_MOVES_FIGURES = _revision.moves_figures == literal(True, Flag())
AT_A_TIME = 500
PROPOSAL = "price_proposal"


def entries(connection: Connection, after: Mark, limit: int, up_to: int) -> tuple[RecordedEntry, ...]:
    """At most `limit` entries after a mark, in order, none beyond revision `up_to`."""
    later = tuple_(_entry.revision, _entry.number) > tuple_(after.revision, after.entry)
    return _read(connection, _asked().where(later, _entry.revision <= up_to).limit(limit))


def page(connection: Connection, after: Mark, limit: int, up_to: int, most: int
         ) -> tuple[tuple[RecordedEntry, ...], bool]:
    """At most `limit` entries after a mark, and whether there are more; fewer, but one at least, where their documents
    come to more than `most` characters: a day's sales are thousands of lines."""
    later = tuple_(_entry.revision, _entry.number) > tuple_(after.revision, after.entry)
    lengths = connection.scalars(
        select(func.length(_entry.document)).where(later, _entry.revision <= up_to)
        .order_by(_entry.revision, _entry.number).limit(limit + 1)).all()
    fitting = sum(1 for length in accumulate(lengths[:limit]) if length <= most)
    return entries(connection, after, max(fitting, 1), up_to), len(lengths) > max(fitting, 1)


def entries_of(connection: Connection, kind: str, code: str, after_revision: int) -> tuple[RecordedEntry, ...]:
    """What happened to one record after a revision."""
    return _read(connection, _asked().where(
        _entry.kind == kind, _entry.code == code, _entry.revision > after_revision))


def revisions(connection: Connection, numbers: Collection[int]) -> dict[int, RecordedRevision]:
    """Who made these revisions and when, some hundreds at a time; of those that accepted a proposal, which file."""
    accepted = and_(_entry.revision == _revision.number, _entry.kind == PROPOSAL)
    asked = select(
        _revision.number, _revision.made_at, _revision.who, _revision.key_id, _entry.code, _entry.document,
    ).outerjoin_from(chain.revision, chain.entry, accepted)
    wanted = sorted(numbers)
    found = (row for first in range(0, len(wanted), AT_A_TIME) for row in connection.execute(
        asked.where(_revision.number.in_(wanted[first:first + AT_A_TIME]))))
    return {row.number: RecordedRevision(
        row.number, row.made_at, row.who, row.key_id, row.code,
        None if row.document is None else json.loads(row.document).get("file_name")) for row in found}


def figures_at(connection: Connection, revision: int) -> tuple[int, str]:
    """The latest revision up to `revision` that can move a figure, and its hash; 0 when there is none."""
    row = connection.execute(
        select(_revision.number, _revision.hash)
        .where(_MOVES_FIGURES, _revision.number <= revision)
        .order_by(_revision.number.desc()).limit(1)).one_or_none()
    return (0, GENESIS) if row is None else (row.number, row.hash)


def figure_revisions(connection: Connection, after: int, limit: int) -> tuple[FigureRevision, ...]:
    """At most `limit` revisions that can move a figure, in order, from the first one above `after`."""
    rows = connection.execute(
        select(_revision.number, _revision.on_date, _revision.hash)
        .where(_MOVES_FIGURES, _revision.number > after).order_by(_revision.number).limit(limit))
    return tuple(FigureRevision(row.number, row.on_date, row.hash) for row in rows)


def figures_before(connection: Connection, day: date) -> int:
    """The latest revision of a business day before `day` that can move a figure; 0 where there is none.

    Days never go back from one revision to the next, so the first one from the head on is found at once.
    """
    number = connection.scalar(
        select(_revision.number).where(_MOVES_FIGURES, _revision.on_date < day)
        .order_by(_revision.number.desc()).limit(1))
    return number or 0


def _asked() -> Select[Any]:
    return (
        select(_entry.revision, _entry.number, _entry.action, _entry.kind, _entry.code, _entry.document,
               _revision.made_at, _revision.on_date, _revision.key_id, _revision.who, _revision.request_id)
        .join(chain.revision, _revision.number == _entry.revision)
        .order_by(_entry.revision, _entry.number)
    )


def _read(connection: Connection, asked: Select[Any]) -> tuple[RecordedEntry, ...]:
    return tuple(
        RecordedEntry(
            mark=Mark(row.revision, row.number), action=row.action, kind=row.kind, code=row.code,
            document=json.loads(row.document), made_at=row.made_at, on_date=row.on_date, key_id=row.key_id,
            who=row.who, request_id=row.request_id)
        for row in connection.execute(asked)
    )
