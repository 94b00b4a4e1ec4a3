"""Keep webhooks: make one, change it, delete it, give it another secret. Each takes a revision that moves no figure.

The secret is shown once. While it is rotated the old one is valid for a stated time and messages carry both
signatures. A webhook belongs to the organisation, not to the key that made it.
"""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from typing import Any

from service.domain.errors import LimitPassed, NotAllowed, NotFound
from service.domain.timeline import Place
from service.domain.webhook import Ended, HeardFrom, Secret, Webhook
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.conditions import Condition, hold_to
from service.use_cases.documents import Document, moment
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork
from service.use_cases.webhook_documents import webhook_document, webhook_entry
from service.use_cases.webhook_sending import CheckTarget
from service.use_cases.webhook_signature import new_secret, secret_bytes

MOST_WEBHOOKS = 100
KIND = "webhook"


@dataclass(frozen=True, slots=True)
class WebhookAsked:
    """What a webhook is to be. `secret` is the owner's own, else one is made."""

    url: str
    events: tuple[str, ...]
    description: str = ""
    figures: bool = False
    active: bool = True
    secret: str | None = None


def create_webhook(ledger: Ledger, asked: WebhookAsked, may_read: bool, check_target: CheckTarget, asker: Asker
                   ) -> Receipt:
    """Make a webhook; the answer holds its secret, this once (a repeat of the request does not show it again).

    Raises:  WrongValue for an address that is not to be called or a secret that is none; NotAllowed; LimitPassed.
    """
    if asked.figures and not may_read:
        raise _needs_read()
    secret = _checked(asked.secret)
    check_target(asked.url)

    def effect(work: WriteWork) -> Document:
        if len(work.webhooks.every()) >= MOST_WEBHOOKS:
            raise LimitPassed(f"There are {MOST_WEBHOOKS} webhooks; delete one that is not needed any more.")
        webhook = Webhook(
            f"wh-{secrets.token_hex(6)}", asked.url, asked.events, asked.description, asked.figures, work.now,
            work.head.revision + 1, None if asked.active else Ended.SWITCHED_OFF, _from_here_on(work))
        work.next_mark(Entry("create_webhook", KIND, webhook.id, webhook_entry(webhook)))
        work.webhooks.keep(webhook)
        work.webhooks.keep_secrets(webhook.id, (Secret(secret, work.now),))
        return webhook_document(webhook) | {"secret": secret}

    return answered_once(ledger, asker, effect, moves_figures=False, kept=_without_secret)


def change_webhook(ledger: Ledger, webhook_id: str, asked: WebhookAsked, may_read: bool, check_target: CheckTarget,
                   condition: Condition, asker: Asker) -> Document:
    """Replace what a webhook is; one that is switched on again hears of what comes after that.

    Raises:  NotFound, PreconditionRequired, PreconditionFailed, WrongValue, NotAllowed.
    """
    before = found(ledger.webhooks.one(webhook_id), webhook_id)
    if asked.url != before.url:
        check_target(asked.url)
    with ledger.write(asker, moves_figures=False) as work:
        there = found(work.webhooks.one(webhook_id), webhook_id)
        if not may_read and _shows_more(asked, there, work):
            raise _needs_read()
        changed = replace(there, url=asked.url, events=asked.events, description=asked.description,
                          figures=asked.figures, ended=None if asked.active else there.ended or Ended.SWITCHED_OFF)
        if changed == there:
            return webhook_document(there)
        _hold_to(condition, there, work)
        if there.ended is not None and changed.ended is None and there.heard_from is not None:
            changed = replace(changed, heard_from=_from_here_on(work))
        return webhook_document(_kept(work, "change_webhook", changed))


def delete_webhook(ledger: Ledger, webhook_id: str, condition: Condition, asker: Asker) -> None:
    """Delete a webhook: it is told nothing more, what waits is cancelled, its secrets are erased.

    Raises:  NotFound, PreconditionRequired, PreconditionFailed.
    """
    with ledger.write(asker, moves_figures=False) as work:
        there = found(work.webhooks.one(webhook_id), webhook_id)
        _hold_to(condition, there, work)
        work.next_mark(Entry("delete_webhook", KIND, webhook_id, {"id": webhook_id}))
        work.webhooks.delete(webhook_id)


def rotate_secret(ledger: Ledger, webhook_id: str, given: str | None, old_valid_for: timedelta, asker: Asker
                  ) -> Receipt:
    """Give a webhook another secret, shown this once; the one in use is valid for a while beside it.

    A webhook that lost its secret in a restore is told of what comes from now on. One that is not valid any more, or
    was being rotated out already, goes.

    Raises:  NotFound; WrongValue for a secret that is none.
    """
    secret = _checked(given)

    def effect(work: WriteWork) -> Document:
        there = found(work.webhooks.one(webhook_id), webhook_id)
        until = work.now + old_valid_for
        old = tuple(replace(one, valid_until=until) for one in work.webhooks.secrets(webhook_id)
                    if one.valid_until is None and old_valid_for and one.text != secret)
        kept = _kept(work, "rotate_webhook_secret", replace(
            there, heard_from=there.heard_from or _from_here_on(work)))
        work.webhooks.keep_secrets(webhook_id, (*old, Secret(secret, work.now)))
        return webhook_document(kept) | {"secret": secret, "old_valid_until": moment(until, "seconds") if old else None}

    return answered_once(ledger, asker, effect, moves_figures=False, kept=_without_secret)


def end_webhook(ledger: Ledger, webhook_id: str, why: Ended, asker: Asker, at_url: str | None = None) -> None:
    """Note that a webhook has ended: its receiver is gone, or failed for days. What waits for it is cancelled.

    `at_url` is where the receiver said so: one that leads elsewhere by now has not ended.
    """
    with ledger.write(asker, moves_figures=False) as work:
        there = work.webhooks.one(webhook_id)
        if there is not None and there.ended is None and at_url in (None, there.url):
            _kept(work, "end_webhook", replace(there, ended=why))


def found(webhook: Webhook | None, webhook_id: str) -> Webhook:
    """The webhook that is there.

    Raises:  NotFound.
    """
    if webhook is None:
        raise NotFound(f"There is no webhook {webhook_id!r}.")
    return webhook


def _kept(work: WriteWork, action: str, webhook: Webhook) -> Webhook:
    kept = replace(webhook, revision=work.head.revision + 1)
    work.next_mark(Entry(action, KIND, kept.id, webhook_entry(kept)))
    work.webhooks.keep(kept)
    return kept


def _from_here_on(work: WriteWork) -> HeardFrom:
    return HeardFrom(Place(work.head.revision + 1, work.today), work.webhooks.last_proposal())


def _hold_to(condition: Condition, there: Webhook, work: WriteWork) -> None:
    hold_to(condition, f"webhook {there.id!r}", there.revision, partial(work.entries_of, KIND, there.id))


def _shows_more(asked: WebhookAsked, there: Webhook, work: WriteWork) -> bool:
    """Whether a change has figures shown that were not, or leads those elsewhere that wait or can be sent again: also
    where they were shown once, and are not any more."""
    if asked.url == there.url:
        return asked.figures and not there.figures
    return asked.figures or any(entry.document.get("figures") for entry in work.entries_of(KIND, there.id, 0))


def _needs_read() -> NotAllowed:
    return NotAllowed("Messages with figures show costs and prices: the key that asks for them, or leads them to "
                      "another address, also needs the scope read.", scope="read")


def _checked(given: str | None) -> str:
    if given is None:
        return new_secret()
    secret_bytes(given)
    return given


def _without_secret(answer: Mapping[str, Any]) -> Mapping[str, Any]:
    return {**answer, "secret": None}
