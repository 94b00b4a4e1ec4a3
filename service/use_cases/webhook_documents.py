"""Webhooks and their deliveries as documents: what the answers say, and what the ledger's entries say of a webhook.

Rules that always hold: no secret is in either. An entry has the address without its path and query, since those often
hold a token of the receiver's, and the ledger's feed is read with other scopes than the webhooks.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.domain.webhook import Ended, Webhook
from service.use_cases.documents import Document, moment
from service.use_cases.webhooks_port import Attempt, Delivery

REASONS: Mapping[Ended | None, str] = {
    None: "",
    Ended.SWITCHED_OFF: "It was switched off; PUT it with \"active\": true to switch it on.",
    Ended.GONE: "The receiver answered 410 Gone; PUT it with \"active\": true once the receiver is back.",
    Ended.FAILING: "Nothing was delivered in all tries of a message, over three days; PUT it with \"active\": true "
                   "once the receiver is mended, and replay what is dead.",
    Ended.RESTORED: "The ledger was restored from a backup, which holds no secrets; ask for another one with "
                    "rotate-secret."}
"""Why a webhook is told nothing, and the mend."""


def webhook_document(webhook: Webhook) -> Document:
    """A webhook as shown."""
    return {
        "id": webhook.id, "url": webhook.url, "events": list(webhook.events), "description": webhook.description,
        "figures": webhook.figures, "active": webhook.why_not is None, "state": webhook.state.value,
        "state_reason": REASONS[webhook.why_not], "made_at": moment(webhook.made_at, "seconds"),
        "revision": webhook.revision}


def webhook_entry(webhook: Webhook) -> Document:
    """What the ledger says of it."""
    return {"id": webhook.id, "receiver": origin_of(webhook.url), "events": list(webhook.events),
            "description": webhook.description, "figures": webhook.figures,
            "ended": webhook.ended and webhook.ended.value}


def origin_of(url: str) -> str:
    """The scheme and host of a URL, without what follows."""
    scheme, _, rest = url.partition("://")
    for mark in "/?#":
        rest = rest.partition(mark)[0]
    return f"{scheme}://{rest.rpartition('@')[2]}"


def delivery_document(delivery: Delivery) -> Document:
    """A delivery as the list has it."""
    return {
        "id": delivery.id, "sequence": delivery.sequence, "event": delivery.event,
        "made_at": moment(delivery.made_at), "state": delivery.state.value, "tries": delivery.tries,
        "next_try_at": _moment(delivery.due_at)}


def logged_delivery(delivery: Delivery) -> Document:
    """A delivery with every try at it."""
    return delivery_document(delivery) | {"attempts": [_attempt(attempt) for attempt in delivery.attempts]}


def _attempt(attempt: Attempt) -> dict[str, Any]:
    return {"number": attempt.number, "at": moment(attempt.at), "came": attempt.came.value, "status": attempt.status}


def _moment(at: datetime | None) -> str | None:
    return None if at is None else moment(at)
