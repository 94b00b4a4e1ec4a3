"""The margin alerts of a ledger in their tables.

Rules that always hold: the cursor moves in the transaction that stores what was raised, so that of several who raise
one stores and the others look again; where the walk ended with a day that began, nothing was recorded meanwhile that
belongs to the day before.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, TextClause, exists, select, text, update

from service.domain.history import Mark
from service.domain.margin_alert import AlertNamed, MarginAlert
from service.domain.target_crossing import Crossing
from service.domain.timeline import BEFORE_THE_FIRST, MovedBy, Place
from service.persistence.engines import Engines
from service.persistence.row_storing import store_rows
from service.persistence.tables.chain import ledger_head, revision
from service.persistence.tables.margin_alerts import (
    margin_alert,
    margin_alert_acknowledgement,
    margin_alert_cursor,
)
from service.use_cases.margin_alerts_port import Acknowledgement, AlertCursor, AlertsAsked, Raised

_AT_ONCE = 500
_A, _K, _C = margin_alert.c, margin_alert_acknowledgement.c, margin_alert_cursor.c
_CLOSED, _CLOSER = margin_alert.alias("closed"), margin_alert.alias("closer")
_NAMED = ("number", "id", "crossed", "revision", "day")
_OPEN, _NOT_OPEN = text("margin_alert.open = 1"), text("margin_alert.open = 0")
"""As the index of open alerts says it."""
_BEGIN = text("INSERT INTO margin_alert_cursor (id, version, last_number) VALUES (1, 0, 0) ON CONFLICT DO NOTHING")


class SqlMarginAlerts:
    """The `MarginAlerts` port."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines

    def cursor(self) -> AlertCursor:
        with self._engines.read() as connection:
            row = connection.execute(select(margin_alert_cursor)).one_or_none()
        if row is None or row.revision is None:
            return AlertCursor(0 if row is None else row.version, BEFORE_THE_FIRST, 0)
        return AlertCursor(row.version, Place(row.revision, row.day), row.last_number)

    def store(self, cursor: AlertCursor, raised: Raised) -> bool:
        with self._engines.write_without_waiting() as connection:
            return _store(connection, cursor, raised)

    def open(self) -> Sequence[MarginAlert]:
        with self._engines.read() as connection:
            return _read(connection, _asked().where(_OPEN).order_by(_A.dish))

    def page(self, asked: AlertsAsked, before: int, limit: int) -> Sequence[MarginAlert]:
        with self._engines.read() as connection:
            return _read(connection, _asked().where(_A.number < before, *_conditions(asked))
                         .order_by(_A.number.desc()).limit(limit))

    def one(self, alert_id: str) -> MarginAlert | None:
        with self._engines.read() as connection:
            return next(iter(_read(connection, _asked().where(_A.id == alert_id))), None)

    def acknowledgements(self, alert_ids: Collection[str]) -> Mapping[str, Acknowledgement]:
        with self._engines.read() as connection:
            return {one.alert: one for ids in _parts(sorted(alert_ids))
                    for one in _acknowledgements(connection, _K.alert_id.in_(ids))}


class SqlMarginAlertWork:
    """The `MarginAlertWork` port, on a connection that holds the head's lock."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._kept: list[Acknowledgement] = []

    def latest(self, alert_id: str) -> Acknowledgement | None:
        found = _acknowledgements(self._connection, _K.alert_id == alert_id)
        return found[-1] if found else None

    def acknowledge(self, acknowledgement: Acknowledgement) -> None:
        self._kept.append(acknowledgement)

    def store(self, revision: int) -> None:  # noqa: ARG002  (each carries the mark of its entry)
        """Store what was gathered."""
        store_rows(self._connection, margin_alert_acknowledgement, [
            {"made_revision": one.made.revision, "made_entry": one.made.entry, "alert_id": one.alert, "note": one.note}
            for one in self._kept])


def _store(connection: Connection, cursor: AlertCursor, raised: Raised) -> bool:
    if raised.head is not None:
        head = connection.scalar(select(ledger_head.c.figures_revision).with_for_update())
        if head != raised.head:
            return False
    connection.execute(_BEGIN)
    if connection.scalar(select(_C.version).with_for_update()) != cursor.version:
        return False
    closed = [alert.closes.number for alert in raised.alerts if alert.closes is not None]
    for numbers in _parts(closed):
        connection.execute(update(margin_alert).where(_A.number.in_(numbers)).values(open=False))
    ended = set(closed)
    store_rows(connection, margin_alert, [_row(alert, ended) for alert in raised.alerts])
    connection.execute(update(margin_alert_cursor).values(
        version=cursor.version + 1, revision=raised.place.revision, day=raised.place.day,
        last_number=cursor.last_number + len(raised.alerts)))
    return True


def _row(alert: MarginAlert, ended: Collection[int]) -> dict[str, Any]:
    return {
        "number": alert.number, "id": alert.id, "dish": alert.dish, "section": alert.section,
        "crossed": alert.crossed.value, "revision": alert.place.revision, "day": alert.place.day,
        "moved_by": alert.moved_by.value, "closes": alert.closes and alert.closes.number,
        "open": alert.crossed is Crossing.OUTSIDE and alert.number not in ended, "told": alert.told}


def _asked() -> Select[Any]:
    """Alerts, each with the one that it closes and the one that closed it."""
    other = [table.c[name].label(f"{table.name}_{name}") for table in (_CLOSED, _CLOSER) for name in _NAMED]
    return (select(margin_alert, *other)
            .outerjoin(_CLOSED, _CLOSED.c.number == _A.closes).outerjoin(_CLOSER, _CLOSER.c.closes == _A.number))


def _conditions(asked: AlertsAsked) -> Iterator[ColumnElement[bool] | TextClause]:
    if asked.open is not None:
        yield _OPEN if asked.open else _NOT_OPEN
    if asked.acknowledged is not None:
        noted = exists().where(_K.alert_id == _A.id)
        yield noted if asked.acknowledged else ~noted
    if asked.dish is not None:
        yield _A.dish == asked.dish
    if asked.section is not None:
        yield _A.section == asked.section
    if asked.start is not None:
        yield _A.day >= asked.start
    if asked.end is not None:
        yield _A.day <= asked.end


def _read(connection: Connection, asked: Select[Any]) -> tuple[MarginAlert, ...]:
    return tuple(MarginAlert(
        row["number"], row["id"], row["dish"], row["section"], Crossing(row["crossed"]),
        Place(row["revision"], row["day"]), MovedBy(row["moved_by"]), row["told"],
        _other(row, "closed"), _other(row, "closer")) for row in connection.execute(asked).mappings())


def _other(row: Any, which: str) -> AlertNamed | None:
    number, name, crossed, known_at, day = (row[f"{which}_{column}"] for column in _NAMED)
    return None if number is None else AlertNamed(number, name, Crossing(crossed), Place(known_at, day))


def _acknowledgements(connection: Connection, which: ColumnElement[bool]) -> list[Acknowledgement]:
    """In the order in which they were made."""
    rows = connection.execute(
        select(_K.alert_id, _K.note, _K.made_revision, _K.made_entry, revision.c.who, revision.c.made_at)
        .join(revision, revision.c.number == _K.made_revision).where(which)
        .order_by(_K.made_revision, _K.made_entry))
    return [Acknowledgement(row.alert_id, row.note, row.who, row.made_at, Mark(row.made_revision, row.made_entry))
            for row in rows]


def _parts(values: Sequence[Any]) -> Iterator[Sequence[Any]]:
    return (values[start:start + _AT_ONCE] for start in range(0, len(values), _AT_ONCE))
