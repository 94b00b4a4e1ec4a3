"""Webhooks in tests: made in few words, told by a teller, and what each was told, read back and put aside."""

import json
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from service.domain.webhook import SUBSCRIBED, DeliveryState
from service.persistence.ledger import SqlLedger
from service.use_cases.figure_timeline import FigureTimeline
from service.use_cases.keep_webhook import WebhookAsked, create_webhook
from service.use_cases.ports import Asker
from service.use_cases.snapshots import Snapshots
from service.use_cases.tell_webhooks import Telling
from service.use_cases.webhook_sending import Came
from service.use_cases.webhooks_port import Tried
from tests.conftest import SettableClock

OFFICE = Asker("key-1", "head office", "request-1")


def any_target(_url: str) -> None:
    """Every address may be called."""


def a_webhook(ledger: SqlLedger, *events: str, figures: bool = False) -> str:
    """A webhook for these events, or for all; its id."""
    asked = WebhookAsked("https://hooks.example/told", events or SUBSCRIBED, figures=figures)
    return str(create_webhook(ledger, asked, True, any_target, OFFICE).document["id"])


@dataclass
class Teller:
    """One of those who tell: a process of its own, as far as memory goes."""

    ledger: SqlLedger
    clock: SettableClock
    most_messages: int = 500
    telling: Telling = field(init=False)

    def __post_init__(self) -> None:
        snapshots = Snapshots(self.ledger)
        self.telling = Telling(self.ledger, FigureTimeline(self.ledger, snapshots), snapshots, self.most_messages)

    def tell_some(self) -> bool:
        """One transaction at most."""
        return self.telling.tell(self.ledger.webhooks.glance(self.clock()), self.clock())

    def tell(self) -> None:
        """All that there is."""
        while self.tell_some():
            pass


def heard(ledger: SqlLedger, clock: SettableClock, webhook: str) -> list[dict[str, Any]]:
    """What a webhook was told since the last look, in the order of its numbers; taken as delivered."""
    now = clock()
    claimed = ledger.webhooks.claim(webhook, 100_000, now, now + timedelta(minutes=1))
    ledger.webhooks.record([Tried(one, now, Came.DELIVERED, 204, DeliveryState.DELIVERED) for one in claimed])
    return sorted((json.loads(one.body) for one in claimed), key=lambda body: int(body["data"]["sequence"]))


def types(messages: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Of each message the event, and what it is about."""
    return [(one["type"], next(str(one["data"][name]) for name in ("dish", "ingredient", "price_proposal")
                               if name in one["data"])) for one in messages]
