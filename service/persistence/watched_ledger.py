"""What is read of a ledger by those who watch it: where its head stands, what its deliverer owes, where it lies.

One short read each, at a probe or a scrape; nothing of what was recorded is read.
"""

import os
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, or_, select

from service.domain.webhook import DeliveryState
from service.persistence.engines import Engines, sqlite_file
from service.persistence.tables.chain import ledger_head, revision
from service.persistence.tables.margin_alerts import margin_alert_cursor
from service.persistence.tables.webhooks import (
    webhook,
    webhook_cursor,
    webhook_delivery,
    webhook_heartbeat,
    webhook_outcome,
    webhook_standing,
)
from service.persistence.watched_pool import watch_pools
from service.persistence.webhook_reading import ACTIVE, STANDING_OF
from service.watching.figures import Figures
from service.watching.ledger_figures import LedgerFigures, Outbox, Storage

_D, _S = webhook_delivery.c, webhook_standing.c
_WAITING = _D.state == DeliveryState.WAITING.value


def watched_ledger(engines: Engines, figures: Figures | None) -> "SqlWatchedLedger":
    """What is read of an open database by who watches it; where figures are kept its pools are told of too."""
    if figures is not None:
        watch_pools(engines, figures)
    return SqlWatchedLedger(engines)


class SqlWatchedLedger:
    """The `WatchedLedger` of one database."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines

    def outbox(self, now: datetime) -> Outbox:
        """What the deliverer owes.

        Raises:  LedgerUnavailable.
        """
        with self._engines.read() as connection:
            return _outbox(connection, now)

    def figures(self, now: datetime) -> LedgerFigures:
        """How the ledger stands.

        Raises:  LedgerUnavailable.
        """
        with self._engines.read() as connection:
            head: Any = connection.execute(
                select(ledger_head.c.revision, ledger_head.c.figures_revision, revision.c.made_at)
                .join(revision, revision.c.number == ledger_head.c.revision, isouter=True)).one()
            return LedgerFigures(
                head.revision, head.figures_revision, head.made_at,
                connection.scalar(select(webhook_cursor.c.revision)),
                connection.scalar(select(margin_alert_cursor.c.revision)) or 0,
                _outbox(connection, now), _count(connection, DeliveryState.WAITING),
                _count(connection, DeliveryState.DEAD),
                {row.came: row.tries for row in connection.execute(select(webhook_outcome))})

    def storage(self) -> Storage | None:
        """Where the file lies; None on a server, and where it is missing."""
        if not self._engines.is_sqlite:
            return None
        path = sqlite_file(self._engines.url)
        try:
            disk = os.statvfs(path.parent)
            writable = os.access(path, os.W_OK) and not disk.f_flag & os.ST_RDONLY
        except OSError:
            return None
        log = path.with_name(f"{path.name}-wal")
        return Storage(disk.f_bavail * disk.f_frsize, log.stat().st_size if log.exists() else 0, writable)


def _outbox(connection: Connection, now: datetime) -> Outbox:
    """Of a webhook that is spared after a failure nothing is due."""
    active = webhook.join(webhook_standing, STANDING_OF)
    oldest: Any = connection.scalar(
        select(func.min(_D.due_at)).select_from(active.join(webhook_delivery, _D.webhook_id == webhook.c.id))
        .where(ACTIVE, _WAITING, _D.due_at <= now, or_(_S.paused_until.is_(None), _S.paused_until <= now)))
    return Outbox(
        connection.scalar(select(func.count()).select_from(active).where(ACTIVE)) or 0,
        connection.scalar(select(webhook_heartbeat.c.at)), oldest)


def _count(connection: Connection, state: DeliveryState) -> int:
    return connection.scalar(select(func.count()).select_from(webhook_delivery).where(_D.state == state.value)) or 0
