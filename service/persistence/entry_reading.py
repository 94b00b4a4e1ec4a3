"""Reading the ledger's entries: the change feed, what happened to one record, which revision moved a figure."""

import json
from typing import Any

from sqlalchemy import Connection, Select, literal, select, tuple_

from service.domain.history import Mark
from service.persistence.column_types import Flag
from service.persistence.hash_chain import GENESIS
from service.persistence.tables import chain
from service.use_cases.ports import RecordedEntry

_revision, _entry = chain.revision.c, chain.entry.c


def entries(connection: Connection, after: Mark, limit: int, up_to: int) -> tuple[RecordedEntry, ...]:
    """At most `limit` entries after a mark, in order, none beyond revision `up_to`."""
    later = tuple_(_entry.revision, _entry.number) > tuple_(after.revision, after.entry)
    return _read(connection, _asked().where(later, _entry.revision <= up_to).limit(limit))


def entries_of(connection: Connection, kind: str, code: str, after_revision: int) -> tuple[RecordedEntry, ...]:
    """What happened to one record after a revision."""
    return _read(connection, _asked().where(
        _entry.kind == kind, _entry.code == code, _entry.revision > after_revision))


def figures_at(connection: Connection, revision: int) -> tuple[int, str]:
    """The latest revision up to `revision` that can move a figure, and its hash; 0 when there is none."""
    row = connection.execute(
        select(_revision.number, _revision.hash)
        .where(_revision.moves_figures == literal(True, Flag()), _revision.number <= revision)
        .order_by(_revision.number.desc()).limit(1)).one_or_none()
    return (0, GENESIS) if row is None else (row.number, row.hash)


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
