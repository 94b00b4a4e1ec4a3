"""Feed links: what the use cases need to keep and find them."""

from typing import Protocol


class FeedLinks(Protocol):
    """The feed links of a ledger, outside of a write that takes a revision."""


class FeedLinkWork(Protocol):
    """The feed links within a write: read under the lock, and stored with the revision whose entry says so."""
