"""Webhooks: what the use cases need to keep them, to store what is told, and to deliver it."""

from typing import Protocol


class Webhooks(Protocol):
    """The webhooks of a ledger, outside of a write that takes a revision."""


class WebhookWork(Protocol):
    """The webhooks within a write: read under the lock, and stored with the revision whose entry says so."""
