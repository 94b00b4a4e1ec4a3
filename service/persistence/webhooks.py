"""The webhooks of a ledger in their tables: the `Webhooks` port."""

from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime

from service.domain.webhook import Webhook
from service.persistence import webhook_deliveries, webhook_reading, webhook_telling
from service.persistence.engines import Engines
from service.use_cases.canonical import instant_text
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.webhooks_port import Claimed, Cursor, Delivery, Glance, Message, Span, Told, Tried

_ACTIVE = "w.ended IS NULL AND w.deleted_revision IS NULL"
_GLANCE = f"""
SELECT c.version,
  (SELECT COUNT(*) FROM webhook w JOIN webhook_standing s ON s.webhook_id = w.id WHERE {_ACTIVE}),
  (SELECT COALESCE(MAX(changed_revision), 0) FROM webhook),
  (SELECT COALESCE(MAX(id), 0) FROM price_proposal),
  (SELECT COUNT(*) FROM webhook w JOIN webhook_standing s ON s.webhook_id = w.id
   WHERE {_ACTIVE} AND (s.paused_until IS NULL OR s.paused_until <= {{mark}}) AND EXISTS (
     SELECT 1 FROM webhook_delivery d WHERE d.webhook_id = w.id AND d.state = 'waiting' AND d.due_at <= {{mark}}))
FROM webhook_cursor c
"""  # noqa: S608  (constant text)
_GLANCE_OF_SQLITE, _GLANCE_OF_POSTGRESQL = _GLANCE.format(mark="?"), _GLANCE.format(mark="%s")


class SqlWebhooks:
    """The `Webhooks` port."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines

    def every(self) -> Sequence[Webhook]:
        with self._engines.read() as connection:
            return webhook_reading.every_webhook(connection)

    def one(self, webhook_id: str) -> Webhook | None:
        with self._engines.read() as connection:
            return webhook_reading.one_webhook(connection, webhook_id)

    def glance(self, now: datetime) -> Glance:
        sqlite = self._engines.is_sqlite
        at = instant_text(now) if sqlite else now.astimezone(UTC)
        version, active, revision, proposal, due = self._engines.quick.one(
            _GLANCE_OF_SQLITE if sqlite else _GLANCE_OF_POSTGRESQL, (at, at))
        return Glance(active > 0, version, revision, proposal, due > 0)

    def cursor(self) -> Cursor:
        with self._engines.read() as connection:
            return webhook_telling.cursor_of(connection)

    def tell(self, cursor: Cursor, told: Told, now: datetime) -> bool:
        with self._engines.write() as connection:
            return webhook_telling.tell(connection, cursor, told, now)

    def send_ping(self, message: Message, now: datetime) -> Delivery:
        with self._engines.write() as connection:
            webhook_telling.store_messages(connection, (message,), now)
            stored = webhook_deliveries.delivery(connection, message.webhook, message.id)
        assert stored is not None  # noqa: S101  (it was just stored)
        return stored

    def due(self, now: datetime) -> Sequence[str]:
        with self._engines.read() as connection:
            return webhook_deliveries.due(connection, now)

    def claim(self, webhook_id: str, limit: int, now: datetime, until: datetime) -> Sequence[Claimed]:
        with self._engines.write() as connection:
            return webhook_deliveries.claim(connection, webhook_id, limit, now, until)

    def record(self, tried: Sequence[Tried]) -> None:
        with self._engines.write() as connection:
            webhook_deliveries.record(connection, tried)

    def beat(self, now: datetime) -> None:
        with suppress(LedgerUnavailable), self._engines.write_without_waiting() as connection:
            webhook_deliveries.beat(connection, now)

    def failing(self, webhook_id: str, delivery_id: str) -> bool:
        with self._engines.read() as connection:
            return webhook_deliveries.failing(connection, webhook_id, delivery_id)

    def deliveries(self, webhook_id: str, before: int | None, limit: int, state: str | None) -> Sequence[Delivery]:
        with self._engines.read() as connection:
            return webhook_deliveries.deliveries(connection, webhook_id, before, limit, state)

    def delivery(self, webhook_id: str, delivery_id: str) -> Delivery | None:
        with self._engines.read() as connection:
            return webhook_deliveries.delivery(connection, webhook_id, delivery_id)

    def replay(self, webhook_id: str, delivery_id: str, now: datetime) -> None:
        with self._engines.write() as connection:
            webhook_deliveries.replay(connection, webhook_id, delivery_id, now)

    def replay_span(self, webhook_id: str, span: Span, now: datetime) -> int:
        with self._engines.write() as connection:
            return webhook_deliveries.replay_span(connection, webhook_id, span, now)

    def prune(self, before: datetime, limit: int) -> int:
        with self._engines.write() as connection:
            return webhook_deliveries.prune(connection, before, limit)
