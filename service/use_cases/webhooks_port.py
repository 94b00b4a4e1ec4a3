"""Webhooks: what the use cases need to keep them, to store what is told, and to deliver it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Protocol

from service.domain.timeline import Place
from service.domain.webhook import DeliveryState, Secret, Webhook
from service.use_cases.canonical import canonical_json, instant_text
from service.use_cases.webhook_sending import Came


@dataclass(frozen=True, slots=True)
class Message:
    """What one webhook is to be told: it gets its sequence number as it is stored."""

    id: str
    webhook: str
    event: str
    at: datetime
    data: Mapping[str, Any]

    def body(self, sequence: int) -> str:
        """The bytes that every try sends, as text.

        Source:  Standard Webhooks 1.0.0, "Payload structure": type, timestamp, data.
        """
        told = {"webhook": self.webhook, "sequence": sequence, **self.data}
        return canonical_json({"type": self.event, "timestamp": instant_text(self.at), "data": told})


@dataclass(frozen=True, slots=True)
class Cursor:
    """How far the timeline was told: all up to `place`, `part` items of the step after it, and proposals.

    Shape:   `version` grows whenever it moves; `place` is None while nobody is told anything; `outside` are the dishes
             that were outside their target there.
    """

    version: int
    place: Place | None
    part: int
    proposal: int
    outside: frozenset[str]


@dataclass(frozen=True, slots=True)
class Told:
    """Messages, and where the cursor stands once they are stored; they were made for the webhooks that were active,
    by the revisions that these were at."""

    messages: Sequence[Message]
    place: Place | None
    part: int
    proposal: int
    left_target: Collection[str] = ()
    came_back: Collection[str] = ()
    webhooks: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Glance:
    """What the deliverer asks every second. Shape: `proposal` is the number of the last one."""

    active: bool
    cursor_version: int
    webhooks_revision: int
    proposal: int
    due: bool


@dataclass(frozen=True, slots=True)
class Claimed:
    """A delivery that this deliverer has for a while; `claim` tells it from every other time it was claimed."""

    id: str
    webhook: str
    url: str
    body: str
    tries: int
    claim: int
    secrets: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of a try, and what follows from it. Shape: `due_at` is None where no other try follows."""

    claimed: Claimed
    at: datetime
    came: Came
    status: int | None
    state: DeliveryState
    due_at: datetime | None = None
    paused_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Attempt:
    """One try as the log has it."""

    number: int
    at: datetime
    came: Came
    status: int | None


@dataclass(frozen=True, slots=True)
class Delivery:
    """The delivery of one message as it stands. Shape: `due_at` is when it is tried next, None where it is not."""

    id: str
    sequence: int
    event: str
    made_at: datetime
    state: DeliveryState
    tries: int
    due_at: datetime | None
    attempts: tuple[Attempt, ...] = ()


@dataclass(frozen=True, slots=True)
class Span:
    """Which messages: by sequence number and time of making, first and last inclusive; None is open."""

    first: int | None = None
    last: int | None = None
    since: datetime | None = None
    until: datetime | None = None
    undelivered_only: bool = True


class Webhooks(Protocol):
    """The webhooks of a ledger, outside of a write that takes a revision."""

    def every(self) -> Sequence[Webhook]:
        """Every webhook that was not deleted, in the order of making."""

    def one(self, webhook_id: str) -> Webhook | None: ...

    def glance(self, now: datetime) -> Glance:
        """Whether there is anything to do, in one statement."""

    def cursor(self) -> Cursor: ...

    def tell(self, cursor: Cursor, told: Told, now: datetime) -> bool:
        """Store the messages and move the cursor, in one transaction; False, and nothing, where another was faster or
        a webhook has changed since."""

    def send_ping(self, message: Message, now: datetime) -> Delivery:
        """Store a message beside what the timeline tells, to be sent at once."""

    def due(self, now: datetime) -> Sequence[str]:
        """Webhooks that have deliveries to be tried now."""

    def claim(self, webhook_id: str, limit: int, now: datetime, until: datetime) -> Sequence[Claimed]:
        """Take at most so many deliveries that are due; nobody else gets them before `until`."""

    def record(self, tried: Sequence[Tried]) -> None:
        """Log tries, and say where their deliveries stand. One that somebody else has claimed since is only logged,
        unless it was delivered."""

    def beat(self, now: datetime) -> None:
        """Note that a deliverer is at work; where the database is busy just now, the next beat does."""

    def failing(self, webhook_id: str, delivery_id: str) -> bool:
        """Whether nothing was delivered to a webhook since this message was made."""

    def deliveries(self, webhook_id: str, before: int | None, limit: int, state: str | None) -> Sequence[Delivery]:
        """At most `limit` deliveries, the newest first, those with a smaller sequence number than `before`."""

    def delivery(self, webhook_id: str, delivery_id: str) -> Delivery | None:
        """One delivery with its attempts."""

    def replay(self, webhook_id: str, delivery_id: str, now: datetime) -> None:
        """Have a message delivered again, from its first try on. One that waits is left as it is."""

    def replay_span(self, webhook_id: str, span: Span, now: datetime) -> int:
        """The same for all of a span that are not waiting; how many there were."""

    def prune(self, before: datetime, limit: int) -> int:
        """Remove at most so many messages made before, that wait for nothing, with their attempts; how many."""


class WebhookWork(Protocol):
    """The webhooks within a write: read under the lock, and stored with the revision whose entry says so."""

    def every(self) -> Sequence[Webhook]: ...

    def one(self, webhook_id: str) -> Webhook | None: ...

    def secrets(self, webhook_id: str) -> Sequence[Secret]:
        """Its secrets, the oldest first."""

    def last_proposal(self) -> int:
        """The number of the last price proposal; 0 where there is none."""

    def keep(self, webhook: Webhook) -> None:
        """Store a webhook as it stands after this revision; while it is not active, what waits for it is cancelled."""

    def keep_secrets(self, webhook_id: str, secrets: Sequence[Secret]) -> None:
        """In place of those that it had."""

    def delete(self, webhook_id: str) -> None:
        """It is not read again, and its secrets are erased."""
