"""A webhook: an address of somebody else's that is told when prices, figures or margins move.

Rules that always hold: a webhook hears of what happens after it was made (or switched on again), never of what was
before; one that is not active is told nothing, and what happened meanwhile is not made up for (the feed of changes has
it). `ping` is sent when it is asked for and is not subscribed to.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.domain.timeline import Place


class Event(StrEnum):
    """What a message tells of."""

    PRICE_CHANGED = "price.changed"
    DISH_COST_CHANGED = "dish.cost_changed"
    DISH_OUTSIDE_TARGET = "dish.outside_target"
    DISH_BACK_WITHIN_TARGET = "dish.back_within_target"
    PRICE_PROPOSAL_WAITING = "price_proposal.waiting"
    PING = "ping"


SUBSCRIBED = tuple(event.value for event in Event if event is not Event.PING)
"""The events that a webhook is made for."""


class WebhookState(StrEnum):
    """Whether it is told anything. `gone`: its receiver answered 410, for good."""

    ACTIVE = "active"
    DISABLED = "disabled"
    GONE = "gone"


class Ended(StrEnum):
    """Why a webhook is not active."""

    SWITCHED_OFF = "switched_off"
    GONE = "gone"
    FAILING = "failing"
    RESTORED = "restored"


@dataclass(frozen=True, slots=True)
class HeardFrom:
    """From where on a webhook hears: the place on the timeline and the last price proposal as it was made."""

    place: Place
    proposal: int

    def hears_of(self, place: Place) -> bool:
        """Whether what leads to a place came later. Places only ever grow in both."""
        return place.revision > self.place.revision or place.day > self.place.day


@dataclass(frozen=True, slots=True)
class Webhook:
    """A webhook without its secrets.

    Shape:   `revision` is that of the entry that changed it last; `ended` is None while it is active; `heard_from` is
             None where it has no secret to sign with, as after a restore.
    """

    id: str
    url: str
    events: tuple[str, ...]
    description: str
    figures: bool
    made_at: datetime
    revision: int
    ended: Ended | None
    heard_from: HeardFrom | None

    @property
    def state(self) -> WebhookState:
        """What `ended` amounts to."""
        if self.why_not is None:
            return WebhookState.ACTIVE
        return WebhookState.GONE if self.why_not is Ended.GONE else WebhookState.DISABLED

    @property
    def why_not(self) -> Ended | None:
        """Why it is not active; None while it is."""
        return self.ended or (Ended.RESTORED if self.heard_from is None else None)

    def hears(self, event: str) -> bool:
        """Whether it is told of such an event."""
        return self.state is WebhookState.ACTIVE and event in self.events


@dataclass(frozen=True, slots=True)
class Secret:
    """What messages are signed with, as its owner has it; `valid_until` is None for the one in use."""

    text: str
    made_at: datetime
    valid_until: datetime | None = None


class DeliveryState(StrEnum):
    """Where the delivery of a message stands. `dead`: tried to the last time; `cancelled`: its webhook ended first."""

    WAITING = "waiting"
    DELIVERED = "delivered"
    DEAD = "dead"
    CANCELLED = "cancelled"

