"""The ledger on a database: the `Ledger` port on SQLite and PostgreSQL.

Rules that always hold: the first statement of every write locks the head, and what a decision rests on is read after
it, so no update is lost and no two writers decide on the same facts; revisions are gap-free and in the order of their
commits; a read as known at a revision never changes again.
"""

import logging
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from secrets import token_hex
from time import perf_counter

from sqlalchemy import Connection, select, update

from service.domain.history import Mark
from service.domain.kitchen import Kitchen
from service.domain.price_list import Layout, PriceRow
from service.domain.price_proposal import PriceProposal
from service.persistence import access_keys, entry_reading, proposal_reading
from service.persistence.allowances import SqlBookings
from service.persistence.clock import Clock, system_clock
from service.persistence.engines import Engines
from service.persistence.feed_links import SqlFeedLinks
from service.persistence.key_use import KeyUse
from service.persistence.kitchen_keeping import KitchenKeeper
from service.persistence.kitchen_walking import SqlKitchenWalk
from service.persistence.margin_alerts import SqlMarginAlerts
from service.persistence.sales import SqlSalesBook
from service.persistence.standing import Standing, ask, standing_of
from service.persistence.tables.chain import ledger_head, signing_secret
from service.persistence.tables.records import kitchen_settings_version
from service.persistence.webhooks import SqlWebhooks
from service.persistence.write_work import SqlWriteWork
from service.use_cases.ports import AccessKey, Asker, Head, RecordedEntry, RecordedRevision
from service.use_cases.timeline_port import FigureRevision

_LOG = logging.getLogger("seamcost.ledger")


class SqlLedger:
    """The ledger of one database. One per process; its threads share it."""

    def __init__(self, engines: Engines, clock: Clock = system_clock,
                 lock_waited: Callable[[float], object] = float) -> None:
        self._engines, self._clock, self._lock_waited = engines, clock, lock_waited
        self.feeds, self.sales, self.webhooks = SqlFeedLinks(engines), SqlSalesBook(engines), SqlWebhooks(engines)
        self.bookings, self.margin_alerts = SqlBookings(engines), SqlMarginAlerts(engines)
        self._keeper = KitchenKeeper()
        self._key_use = KeyUse(engines)
        self._standing: Standing | None = None
        self._secret: bytes | None = None

    @contextmanager
    def write(self, asker: Asker, moves_figures: bool = True) -> Iterator[SqlWriteWork]:
        """Begin a write: lock the head, then read. Commits on leaving; any exception undoes all of it.

        Raises:  LedgerUnavailable when the lock is not to be had in time, or the database cannot take the write.
        """
        begun = perf_counter()
        with self._engines.write() as connection:
            standing = _locked(connection)
            self._lock_waited(perf_counter() - begun)
            now = self._clock()
            work = SqlWriteWork(connection, self._keeper, asker, standing.head, now, standing.today(now),
                                moves_figures)
            yield work
            work.store()
        if work.revision is not None:
            _LOG.info("", extra={"fields": {"event": "recorded", "revision": work.revision, "key_id": asker.key_id,
                                            "request_id": asker.request_id}})

    def head(self) -> Head:
        return self._ask(None)[0].head

    def today(self) -> date:
        return self._ask(None)[0].today(self._clock())

    def today_at(self, head: Head) -> date:
        """The business day now, for a head that was just read: no statement when it is the head seen last."""
        standing = self._standing
        if standing is None or standing.head != head:
            standing = self._ask(None)[0]
        return standing.today(self._clock())

    def head_and_key(self, secret_hash: str) -> tuple[Head, AccessKey | None]:
        standing, key = self._ask(secret_hash)
        return standing.head, key

    def kitchen(self, revision: int) -> Kitchen:
        """All that was recorded as known at `revision`.

        Raises:  LookupError for a revision above the head.
        """
        kept = self._keeper.kept(revision)
        if kept is not None:
            return kept
        with self._engines.read() as connection:
            head = connection.scalar(select(ledger_head.c.revision)) or 0
            if not 0 <= revision <= head:
                raise LookupError(f"Revision {revision} is not in the ledger: its head is {head}.")
            return self._keeper.at(connection, revision)

    def figures_at(self, revision: int) -> tuple[int, str]:
        with self._engines.read() as connection:
            return entry_reading.figures_at(connection, revision)

    def figure_revisions(self, after: int, limit: int) -> Sequence[FigureRevision]:
        with self._engines.read() as connection:
            return entry_reading.figure_revisions(connection, after, limit)

    def figures_before(self, day: date) -> int:
        with self._engines.read() as connection:
            return entry_reading.figures_before(connection, day)

    def walk(self) -> SqlKitchenWalk:
        return SqlKitchenWalk(self._engines, self._keeper)

    def entries(self, after: Mark, limit: int, up_to: int) -> Sequence[RecordedEntry]:
        with self._engines.read() as connection:
            return entry_reading.entries(connection, after, limit, up_to)

    def entry_page(self, after: Mark, limit: int, up_to: int, most_characters: int
                   ) -> tuple[Sequence[RecordedEntry], bool]:
        with self._engines.read() as connection:
            return entry_reading.page(connection, after, limit, up_to, most_characters)

    def revisions(self, numbers: Collection[int]) -> Mapping[int, RecordedRevision]:
        with self._engines.read() as connection:
            return entry_reading.revisions(connection, numbers)

    def every_key(self) -> Sequence[AccessKey]:
        with self._engines.read() as connection:
            return access_keys.all_keys(connection)

    def proposal(self, number: int) -> PriceProposal | None:
        with self._engines.read() as connection:
            return proposal_reading.proposal(connection, number)

    def proposals(self, before: int | None, limit: int, supplier: str | None, state: str | None
                  ) -> Sequence[PriceProposal]:
        with self._engines.read() as connection:
            return proposal_reading.proposals(connection, before, limit, supplier, state)

    def proposals_like(self, supplier: str, file_hash: str) -> Sequence[PriceProposal]:
        with self._engines.read() as connection:
            return proposal_reading.proposals_like(connection, supplier, file_hash)

    def proposal_rows(self, number: int) -> Sequence[PriceRow]:
        with self._engines.read() as connection:
            return proposal_reading.proposal_rows(connection, number)

    def list_before(self, supplier: str, number: int) -> PriceProposal | None:
        with self._engines.read() as connection:
            return proposal_reading.list_before(connection, supplier, number)

    def layout_of(self, supplier: str) -> Layout | None:
        with self._engines.read() as connection:
            return proposal_reading.layout_of(connection, supplier)

    def touch_key(self, key_id: str, at: datetime) -> None:
        self._key_use.touch(key_id, at)

    def signing_secret(self) -> bytes:
        if self._secret is None:
            with self._engines.read() as connection:
                self._secret = bytes.fromhex(connection.scalars(select(signing_secret.c.secret)).one())
        return self._secret

    def renew_signing_secret(self) -> None:
        """Make another one. Whoever has asked for it before goes by the old until the process ends.

        Raises:  LedgerUnavailable.
        """
        with self._engines.write() as connection:
            connection.execute(update(signing_secret).values(secret=token_hex(32)))
        self._secret = None

    def _ask(self, secret_hash: str | None) -> tuple[Standing, AccessKey | None]:
        standing, key = ask(self._engines, secret_hash)
        self._standing = standing
        return standing, key


def _locked(connection: Connection) -> Standing:
    """Lock the head (on SQLite, BEGIN IMMEDIATE has), then read how the kitchen counts its days."""
    columns = ledger_head.c
    head = connection.execute(select(
        columns.revision, columns.on_date, columns.hash, columns.figures_revision, columns.figures_hash,
    ).where(columns.id == 1).with_for_update()).one_or_none()
    settings = kitchen_settings_version.c
    day = connection.execute(
        select(settings.time_zone, settings.business_day_start)
        .order_by(settings.made_revision.desc(), settings.made_entry.desc()).limit(1)).one_or_none()
    return standing_of(None if head is None else (*head, *(day or (None, None))))
