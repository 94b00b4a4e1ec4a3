"""Feed links: what they are, and what the use cases need to keep and find them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol


@dataclass(frozen=True, slots=True)
class FeedLink:
    """A read-only address for programs that cannot send a header, as stored: never the token in it.

    Shape:   `lists` are the cost lists it shows, `fields` its columns in their order (None: all); `made_by` names the
             key that made it.
    """

    id: str
    name: str
    lists: tuple[str, ...]
    fields: tuple[str, ...] | None
    delimiter: str
    decimal: str
    bom: bool
    made_by: str
    created_at: datetime
    expires_at: datetime | None
    last_used_at: datetime | None = None
    revoked_at: datetime | None = None


class FeedLinks(Protocol):
    """The feed links of a ledger, outside of a write that takes a revision."""

    def every(self) -> Sequence[FeedLink]:
        """Every link, in the order made."""

    def behind(self, token_hash: str) -> FeedLink | None:
        """The link of a token, whatever has become of it; None when there was never one."""

    def touch(self, link_id: str, at: datetime) -> None:
        """Note the last use of a link: coarse, off the ledger, never in the way of a request."""


class FeedLinkWork(Protocol):
    """The feed links within a write: read under the lock, and stored with the revision whose entry says so."""

    def every(self) -> Sequence[FeedLink]: ...

    def add(self, link: FeedLink, token_hash: str) -> None: ...

    def revoke(self, link_id: str, at: datetime) -> None: ...
