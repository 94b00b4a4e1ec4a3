"""A webhook of the examples' ledger alone, and what it was told: one message arrived at the second try, one is dead.

It is stored beside the chain, so that no other example's revision moves.
"""

from datetime import UTC, datetime, timedelta

from service.domain.timeline import Place
from service.domain.webhook import DeliveryState, HeardFrom, Secret, Webhook
from service.persistence.engines import Engines
from service.persistence.ledger import SqlLedger
from service.persistence.webhook_storing import SqlWebhookWork
from service.use_cases.webhook_sending import Came
from service.use_cases.webhooks_port import Message, Tried

WEBHOOK, ARRIVED, DEAD = "wh-5eedf00d0001", "msg-5eedf00d0001", "msg-5eedf00d0002"
MADE = datetime(2026, 11, 20, 9, tzinfo=UTC)
FIRST_REVISION = 1
MADE_UP = Secret("whsec_bWFkZSB1cCBmb3IgdGhlIGV4YW1wbGVzIGFsb25l", MADE)


def make_webhook(ledger: SqlLedger, engines: Engines) -> None:
    """Store the webhook, its messages and their log."""
    webhook = Webhook(
        WEBHOOK, "https://hooks.head-office.example/told", ("price.changed", "dish.cost_changed"), "Prices and costs",
        False, MADE, FIRST_REVISION, None, HeardFrom(Place(FIRST_REVISION, MADE.date()), 0))
    with engines.write() as connection:
        work = SqlWebhookWork(connection)
        work.keep(webhook)
        work.keep_secrets(WEBHOOK, (MADE_UP,))
        work.store(FIRST_REVISION)
    for message in (ARRIVED, DEAD):
        ledger.webhooks.send_ping(Message(message, WEBHOOK, "ping", MADE, {}), MADE)
    later, at_last = MADE + timedelta(seconds=6), MADE + timedelta(hours=77)
    _tried(ledger, MADE, Came.REFUSED, 500, DeliveryState.WAITING, later)
    _tried(ledger, MADE, Came.NOT_REACHED, None, DeliveryState.WAITING, at_last)
    _tried(ledger, later, Came.DELIVERED, 204, DeliveryState.DELIVERED)
    _tried(ledger, at_last, Came.TIMED_OUT, None, DeliveryState.DEAD)


def _tried(ledger: SqlLedger, at: datetime, came: Came, status: int | None, state: DeliveryState,
           due_at: datetime | None = None) -> None:
    """What came of the one that is due first."""
    [claimed] = ledger.webhooks.claim(WEBHOOK, 1, at, at)
    ledger.webhooks.record([Tried(claimed, at, came, status, state, due_at)])
