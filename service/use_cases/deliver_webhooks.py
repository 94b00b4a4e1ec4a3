"""Deliver messages: what a try sends, and what follows from what came of it.

At least once: the same id and the same bytes at every try, with the time and the signatures of the try. Receivers tell
repeats by the id. Messages are not kept in order; each carries its number, and the place that it tells of.
"""

import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta

from service.domain.webhook import DeliveryState, Ended
from service.domain.webhook_retries import MOST_JITTER_PERMILLE, after_failure
from service.use_cases.keep_webhook import end_webhook
from service.use_cases.ports import Asker, Ledger
from service.use_cases.webhook_sending import Came, Outcome
from service.use_cases.webhook_signature import signed_fields
from service.use_cases.webhooks_port import Claimed, Tried

KEPT_FOR = timedelta(days=35)
"""How long messages that wait for nothing are kept, for their log and for replays."""
PRUNED_AT_ONCE = 500
KEY_ID = "deliver"


def header_fields(claimed: Claimed, now: datetime) -> Mapping[str, str]:
    """The fields of a try at a message."""
    return signed_fields(claimed.id, now, claimed.body.encode(), claimed.secrets)


def what_follows(claimed: Claimed, outcome: Outcome, now: datetime, jitter_permille: int | None = None) -> Tried:
    """Where a delivery stands after a try."""
    if outcome.came is Came.DELIVERED:
        return Tried(claimed, now, outcome.came, outcome.status, DeliveryState.DELIVERED)
    if outcome.came is Came.GONE:
        return Tried(claimed, now, outcome.came, outcome.status, DeliveryState.DEAD)
    jitter = secrets.randbelow(MOST_JITTER_PERMILLE + 1) if jitter_permille is None else jitter_permille
    again = after_failure(claimed.tries + 1, now, outcome.status, outcome.retry_after_seconds, jitter)
    state = DeliveryState.DEAD if again.due_at is None else DeliveryState.WAITING
    return Tried(claimed, now, outcome.came, outcome.status, state, again.due_at, again.paused_until)


def note(ledger: Ledger, tried: list[Tried]) -> None:
    """Log tries, and end the webhooks whose receivers are gone or have failed for days."""
    ledger.webhooks.record(tried)
    for one in tried:
        if one.state is not DeliveryState.DEAD:
            continue
        webhook, message = one.claimed.webhook, one.claimed.id
        asker = Asker(KEY_ID, "webhook deliverer", message)
        if one.came is Came.GONE:
            end_webhook(ledger, webhook, Ended.GONE, asker, one.claimed.url)
        elif ledger.webhooks.failing(webhook, message):
            end_webhook(ledger, webhook, Ended.FAILING, asker)
