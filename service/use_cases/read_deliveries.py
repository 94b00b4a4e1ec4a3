"""Read what a webhook was told, try by try; have it told again; send it a ping. None of it takes a revision."""

from datetime import datetime

from service.domain.errors import NotFound, WebhookNotActive
from service.domain.webhook import Event, Webhook, WebhookState
from service.use_cases.documents import Document
from service.use_cases.keep_webhook import found
from service.use_cases.ports import Ledger
from service.use_cases.read_record import Listed
from service.use_cases.tell_webhooks import new_message_id
from service.use_cases.webhook_documents import REASONS, delivery_document, logged_delivery
from service.use_cases.webhooks_port import Delivery, Message, Span


def list_deliveries(ledger: Ledger, webhook_id: str, before: int | None, limit: int, state: str | None) -> Listed:
    """A page of a webhook's deliveries, the newest first.

    Raises:  NotFound.
    """
    found(ledger.webhooks.one(webhook_id), webhook_id)
    listed = ledger.webhooks.deliveries(webhook_id, before, limit + 1, state)
    page = listed[:limit]
    return Listed([delivery_document(one) for one in page], str(page[-1].sequence) if len(listed) > limit else None)


def read_delivery(ledger: Ledger, webhook_id: str, delivery_id: str) -> Document:
    """One delivery with its log.

    Raises:  NotFound.
    """
    found(ledger.webhooks.one(webhook_id), webhook_id)
    return logged_delivery(_delivery(ledger, webhook_id, delivery_id))


def replay_delivery(ledger: Ledger, webhook_id: str, delivery_id: str, now: datetime) -> Document:
    """Send a message again: the same id and bytes, from the first try on. One that waits is left as it is.

    Raises:  NotFound, WebhookNotActive.
    """
    _active(ledger, webhook_id)
    _delivery(ledger, webhook_id, delivery_id)
    ledger.webhooks.replay(webhook_id, delivery_id, now)
    return logged_delivery(_delivery(ledger, webhook_id, delivery_id))


def replay_deliveries(ledger: Ledger, webhook_id: str, span: Span, now: datetime) -> int:
    """The same for every message of a span; how many.

    Raises:  NotFound, WebhookNotActive.
    """
    _active(ledger, webhook_id)
    return ledger.webhooks.replay_span(webhook_id, span, now)


def send_ping(ledger: Ledger, webhook_id: str, now: datetime) -> Document:
    """Have a message sent that tells of nothing, whatever the webhook is subscribed to.

    Raises:  NotFound, WebhookNotActive.
    """
    _active(ledger, webhook_id)
    head = ledger.head()
    data = {"revision": head.revision, "as_of": ledger.today_at(head).isoformat()}
    message = Message(new_message_id(), webhook_id, Event.PING, now, data)
    return logged_delivery(ledger.webhooks.send_ping(message, now))


def _active(ledger: Ledger, webhook_id: str) -> Webhook:
    webhook = found(ledger.webhooks.one(webhook_id), webhook_id)
    if webhook.state is not WebhookState.ACTIVE:
        raise WebhookNotActive(f"Webhook {webhook_id!r} is told nothing. {REASONS[webhook.why_not]}",
                               state=webhook.state.value)
    return webhook


def _delivery(ledger: Ledger, webhook_id: str, delivery_id: str) -> Delivery:
    delivery = ledger.webhooks.delivery(webhook_id, delivery_id)
    if delivery is None:
        raise NotFound(f"Webhook {webhook_id!r} has no delivery {delivery_id!r}, or none any more: they are kept for "
                       "35 days.")
    return delivery
