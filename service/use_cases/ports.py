"""What the use cases need from outside, as Protocols. Persistence and wiring keep these promises.

The ledger: nothing is overwritten; every accepted write takes the next revision of one gap-free, commit-ordered
counter. A `WriteWork` holds the lock on the head from its first statement; what a decision rests on is read after it.
"""

from collections.abc import Collection, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Protocol

from service.domain.history import Mark, Version
from service.domain.kitchen import Kitchen
from service.domain.price import Price
from service.domain.price_list import Layout, PriceRow
from service.domain.price_proposal import PriceProposal
from service.domain.yield_test import YieldTest
from service.use_cases.allowances import Bookings
from service.use_cases.feed_links_port import FeedLinks, FeedLinkWork
from service.use_cases.margin_alerts_port import MarginAlerts, MarginAlertWork
from service.use_cases.proposals_port import ProposalReads
from service.use_cases.sales_port import SalesBook, SalesWork
from service.use_cases.timeline_port import TimelineReads
from service.use_cases.webhooks_port import Webhooks, WebhookWork


@dataclass(frozen=True, slots=True)
class Head:
    """Where the ledger stands. `figures_*` is the latest revision that can move a figure; a fresh ledger is at 0.

    Shape:   hashes are 64 lower-case hexadecimal digits.
    """

    revision: int
    on_date: date
    hash: str
    figures_revision: int
    figures_hash: str


@dataclass(frozen=True, slots=True)
class AccessKey:
    """A key as stored: never its secret. `id` is public; no `requests_per_minute` of its own: the setting decides."""

    id: str
    name: str
    scopes: tuple[str, ...]
    created_at: datetime
    expires_at: datetime | None
    last_used_at: datetime | None
    revoked_at: datetime | None
    made_revision: int = 0
    requests_per_minute: int | None = None


@dataclass(frozen=True, slots=True)
class Idempotency:
    """The client's Idempotency-Key for one route, and the fingerprint (SHA-256, hex) of what it asks."""

    key: str
    route: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Asker:
    """Who asks: recorded on the revision. `key_id` is "cli" on the command line."""

    key_id: str
    name: str
    request_id: str
    idempotency: Idempotency | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that a revision did. `document` is what is stored as canonical JSON and hashed."""

    action: str
    kind: str
    code: str
    document: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RecordedEntry:
    """An entry as read back from the ledger, with its revision's facts."""

    mark: Mark
    action: str
    kind: str
    code: str
    document: Mapping[str, Any]
    made_at: datetime
    on_date: date
    key_id: str
    who: str
    request_id: str


@dataclass(frozen=True, slots=True)
class RecordedRevision:
    """Who made a revision and when; `proposal` and `file_name` are of the price proposal that it accepted, if any."""

    number: int
    made_at: datetime
    who: str
    key_id: str
    proposal: str | None = None
    file_name: str | None = None


class WriteWork(Protocol):
    """One write transaction: holds the head's lock; commits once, on leaving the block without a fault.

    A work that adds nothing takes no revision. The versions, prices and tests given to it carry `next_mark()` of the
    entry that says so, in the same order.
    """

    head: Head
    now: datetime
    today: date
    """The organisation's business day, never below the head's."""

    @property
    def feeds(self) -> FeedLinkWork: ...
    @property
    def sales(self) -> SalesWork: ...
    @property
    def margin_alerts(self) -> MarginAlertWork: ...
    @property
    def webhooks(self) -> WebhookWork: ...

    def kitchen(self) -> Kitchen:
        """All that is recorded, read under the lock."""

    def entries_of(self, kind: str, code: str, after_revision: int) -> Sequence[RecordedEntry]:
        """What happened to one record after a revision: what a 412 tells."""

    def every_key(self) -> Sequence[AccessKey]:
        """Every key, read under the lock."""

    def next_mark(self, entry: Entry) -> Mark:
        """Add an entry to this revision (the first one takes the next revision) and return its mark.

        Its document is written down when the work ends: leave it as it is until then.
        """

    def add_version(self, kind: str, code: str, version: Version[Any]) -> None:
        """Store a version; one with the same start that it replaces is marked replaced, not erased."""

    def add_price(self, price: Price) -> None: ...

    def withdraw_price(self, price: Price) -> None:
        """Store the withdrawal that `price` carries."""

    def add_yield_test(self, test: YieldTest) -> None: ...

    def set_aside_yield_test(self, test: YieldTest) -> None: ...

    def add_key(self, key: AccessKey, secret_hash: str) -> None: ...

    def revoke_key(self, key_id: str, at: datetime) -> None: ...

    def proposal(self, number: int) -> PriceProposal | None:
        """One price proposal, read under the lock."""

    def proposals_like(self, supplier: str, file_hash: str) -> Sequence[PriceProposal]:
        """The proposals made of the same file for the same supplier, the newest first, read under the lock."""

    def add_proposal(self, proposal: PriceProposal, rows: Sequence[PriceRow]) -> PriceProposal:
        """Keep a draft; it is given the next number, whatever `id` it came with. Takes no revision."""

    def change_proposal(self, proposal: PriceProposal) -> None:
        """Keep another look (`base_revision`, `looks`) or the end of a proposal. The draft itself never changes."""

    def remember_layout(self, supplier: str, layout: Layout) -> None:
        """Keep how this supplier's tables are read, in place of what was kept before. Takes no revision."""

    def remembered(self) -> Mapping[str, Any] | None:
        """The answer kept for the asker's Idempotency-Key, or None when it is new.

        Raises:  IdempotencyKeyReused when the fingerprint differs.
        """

    def remember(self, answer: Mapping[str, Any]) -> None:
        """Keep `answer` (JSON, no secrets) for the asker's Idempotency-Key, in this transaction. No key: nothing."""


class Ledger(TimelineReads, ProposalReads, Protocol):
    """The way in: writes, and reads as known at a revision."""

    @property
    def feeds(self) -> FeedLinks: ...
    @property
    def sales(self) -> SalesBook: ...
    @property
    def margin_alerts(self) -> MarginAlerts: ...
    @property
    def webhooks(self) -> Webhooks: ...
    @property
    def bookings(self) -> Bookings: ...

    def write(self, asker: Asker, moves_figures: bool = True) -> AbstractContextManager[WriteWork]:
        """Begin a write: lock the head, then read. Commits on leaving; any exception undoes all of it."""

    def head(self) -> Head: ...

    def today(self) -> date:
        """The organisation's business day now, never below the head's."""

    def today_at(self, head: Head) -> date:
        """The business day now, for a head that was just read: without asking again."""

    def head_and_key(self, secret_hash: str) -> tuple[Head, AccessKey | None]:
        """Head and key in one statement: what every request asks first."""

    def kitchen(self, revision: int) -> Kitchen:
        """All that was recorded as known at `revision`. The worker's latest is kept and advanced, not reloaded."""

    def figures_at(self, revision: int) -> tuple[int, str]:
        """The latest revision up to `revision` that can move a figure, and its hash."""

    def entries(self, after: Mark, limit: int, up_to: int) -> Sequence[RecordedEntry]:
        """At most `limit` entries after a mark, in order, none beyond revision `up_to`."""

    def entry_page(self, after: Mark, limit: int, up_to: int, most_characters: int
                   ) -> tuple[Sequence[RecordedEntry], bool]:
        """As `entries`, fewer (one at least) where their documents are longer together; and whether there are more."""

    def revisions(self, numbers: Collection[int]) -> Mapping[int, RecordedRevision]:
        """Who made these revisions, and when."""

    def every_key(self) -> Sequence[AccessKey]: ...

    def touch_key(self, key_id: str, at: datetime) -> None:
        """Note the last use of a key: coarse, off the ledger, never in the way of a request."""

    def signing_secret(self) -> bytes:
        """32 bytes, made with the ledger, with which cursors are signed in every worker."""
