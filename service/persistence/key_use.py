"""The last use of keys and of feed links: coarse, off the ledger, never in the way of a request."""

from datetime import datetime, timedelta

from sqlalchemy import Table, or_, update

from service.persistence.engines import Engines
from service.persistence.tables.chain import access_key
from service.use_cases.ledger_unavailable import LedgerUnavailable

COARSE = timedelta(minutes=1)


class KeyUse:
    """Notes the last use of the rows of a table, at most once a minute each; when the database is busy, later."""

    def __init__(self, engines: Engines, table: Table = access_key) -> None:
        self._engines, self._table = engines, table
        self._noted: dict[str, datetime] = {}

    def touch(self, key_id: str, at: datetime) -> None:
        noted = self._noted.get(key_id)
        if noted is not None and timedelta(0) <= at - noted < COARSE:
            return
        self._noted[key_id] = at
        try:
            self._note(key_id, at)
        except LedgerUnavailable:
            self._noted.pop(key_id, None)

    def _note(self, key_id: str, at: datetime) -> None:
        column = self._table.c.last_used_at
        note = update(self._table).where(self._table.c.id == key_id, or_(column.is_(None), column <= at - COARSE))
        with self._engines.write_without_waiting() as connection:
            connection.execute(note.values(last_used_at=at))
