"""The feed links of a ledger in their table: never their tokens, only SHA-256 of them."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from service.persistence.engines import Engines
from service.persistence.key_use import KeyUse
from service.persistence.tables.feed_links import feed_link
from service.use_cases.feed_links_port import FeedLink

_COLUMNS = [feed_link.c[name] for name in (
    "id", "name", "lists", "fields", "delimiter", "decimal_mark", "bom", "made_by", "created_at", "expires_at",
    "last_used_at", "revoked_at")]


class SqlFeedLinks:
    """The `FeedLinks` port."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines
        self._use = KeyUse(engines, feed_link)

    def every(self) -> Sequence[FeedLink]:
        with self._engines.read() as connection:
            return _every(connection)

    def behind(self, token_hash: str) -> FeedLink | None:
        with self._engines.read() as connection:
            row = connection.execute(select(*_COLUMNS).where(feed_link.c.token_hash == token_hash)).one_or_none()
        return None if row is None else _link(row)

    def touch(self, link_id: str, at: datetime) -> None:
        self._use.touch(link_id, at)


class SqlFeedLinkWork:
    """The `FeedLinkWork` port, on a connection that holds the head's lock."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._made: list[tuple[FeedLink, str]] = []
        self._revoked: list[tuple[str, datetime]] = []

    def every(self) -> Sequence[FeedLink]:
        return _every(self._connection)

    def add(self, link: FeedLink, token_hash: str) -> None:
        self._made.append((link, token_hash))

    def revoke(self, link_id: str, at: datetime) -> None:
        self._revoked.append((link_id, at))

    def store(self, revision: int) -> None:
        """Store what was gathered, as made by `revision`.

        Raises:  LookupError for a link that is not there to be revoked.
        """
        for link, token_hash in self._made:
            self._connection.execute(insert(feed_link), {
                "id": link.id, "name": link.name, "lists": link.lists, "fields": link.fields,
                "delimiter": link.delimiter, "decimal_mark": link.decimal, "bom": link.bom, "token_hash": token_hash,
                "made_by": link.made_by, "created_at": link.created_at, "expires_at": link.expires_at,
                "last_used_at": link.last_used_at, "revoked_at": link.revoked_at, "made_revision": revision})
        for link_id, at in self._revoked:
            held = self._connection.execute(
                update(feed_link).where(feed_link.c.id == link_id).values(revoked_at=at))
            if held.rowcount != 1:
                raise LookupError(f"There is no feed link {link_id!r} to revoke.")


def _every(connection: Connection) -> tuple[FeedLink, ...]:
    rows = connection.execute(select(*_COLUMNS).order_by(feed_link.c.made_revision, feed_link.c.id))
    return tuple(_link(row) for row in rows)


def _link(row: Row[Any]) -> FeedLink:
    fields = None if row.fields is None else tuple(row.fields)
    return FeedLink(row.id, row.name, tuple(row.lists), fields, row.delimiter, row.decimal_mark, bool(row.bom),
                    row.made_by, row.created_at, row.expires_at, row.last_used_at, row.revoked_at)
