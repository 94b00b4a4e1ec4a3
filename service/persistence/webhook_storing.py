"""Storing webhooks with the revision whose entry says so: the webhook, where it hears from, and its secrets.

Rules that always hold: while a webhook is not active nothing waits for it; one that was deleted has no secret.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlalchemy import Connection, delete, func, insert, select, update

from service.domain.webhook import DeliveryState, HeardFrom, Secret, Webhook
from service.persistence.tables.proposals import price_proposal
from service.persistence.tables.webhooks import webhook, webhook_delivery, webhook_secret, webhook_standing
from service.persistence.webhook_reading import every_webhook, hold_standings, one_webhook, secrets_of


@dataclass
class SqlWebhookWork:
    """The `WebhookWork` port, on a connection that holds the head's lock."""

    connection: Connection
    _kept: list[Webhook] = field(default_factory=list)
    _secrets: dict[str, Sequence[Secret]] = field(default_factory=dict)
    _deleted: list[str] = field(default_factory=list)

    def every(self) -> Sequence[Webhook]:
        return every_webhook(self.connection)

    def one(self, webhook_id: str) -> Webhook | None:
        return one_webhook(self.connection, webhook_id)

    def secrets(self, webhook_id: str) -> Sequence[Secret]:
        return secrets_of(self.connection, webhook_id)

    def last_proposal(self) -> int:
        return self.connection.scalar(select(func.max(price_proposal.c.id))) or 0

    def keep(self, kept: Webhook) -> None:
        self._kept.append(kept)

    def keep_secrets(self, webhook_id: str, secrets: Sequence[Secret]) -> None:
        self._secrets[webhook_id] = secrets

    def delete(self, webhook_id: str) -> None:
        self._deleted.append(webhook_id)

    def store(self, revision: int) -> None:
        """Store what was gathered, as made by `revision`."""
        for kept in self._kept:
            self._store(kept, revision)
        for webhook_id, secrets in self._secrets.items():
            self._store_secrets(webhook_id, secrets)
        for webhook_id in self._deleted:
            self.connection.execute(update(webhook).where(webhook.c.id == webhook_id).values(
                changed_revision=revision, deleted_revision=revision))
            self._store_secrets(webhook_id, ())
            self._cancel(webhook_id)

    def _store(self, kept: Webhook, revision: int) -> None:
        facts = {"url": kept.url, "events": kept.events, "description": kept.description, "figures": kept.figures,
                 "changed_revision": revision, "ended": kept.ended and kept.ended.value}
        held = self.connection.execute(update(webhook).where(webhook.c.id == kept.id).values(facts))
        if held.rowcount == 0:
            self.connection.execute(insert(webhook), {
                "id": kept.id, "made_at": kept.made_at, "made_revision": revision, **facts})
        if kept.heard_from is not None:
            self._store_standing(kept.id, kept.heard_from)
        if kept.ended is not None:
            self._cancel(kept.id)

    def _store_standing(self, webhook_id: str, heard_from: HeardFrom) -> None:
        """A receiver that asked to be spared is not any longer: somebody has looked after its webhook."""
        facts = {"heard_from_revision": heard_from.place.revision, "heard_from_day": heard_from.place.day,
                 "heard_from_proposal": heard_from.proposal, "paused_until": None}
        held = self.connection.execute(
            update(webhook_standing).where(webhook_standing.c.webhook_id == webhook_id).values(facts))
        if held.rowcount == 0:
            self.connection.execute(insert(webhook_standing), {"webhook_id": webhook_id, "last_sequence": 0, **facts})

    def _store_secrets(self, webhook_id: str, secrets: Sequence[Secret]) -> None:
        self.connection.execute(delete(webhook_secret).where(webhook_secret.c.webhook_id == webhook_id))
        for position, secret in enumerate(secrets, start=1):
            self.connection.execute(insert(webhook_secret), {
                "webhook_id": webhook_id, "position": position, "secret": secret.text, "made_at": secret.made_at,
                "valid_until": secret.valid_until})

    def _cancel(self, webhook_id: str) -> None:
        hold_standings(self.connection, (webhook_id,))
        columns = webhook_delivery.c
        self.connection.execute(
            update(webhook_delivery)
            .where(columns.webhook_id == webhook_id, columns.state == DeliveryState.WAITING.value)
            .values(state=DeliveryState.CANCELLED.value, due_at=None))
