"""The feed links of a ledger in their tables."""

from sqlalchemy import Connection

from service.persistence.engines import Engines


class SqlFeedLinks:
    """The `FeedLinks` port."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines


class SqlFeedLinkWork:
    """The `FeedLinkWork` port, on a connection that holds the head's lock."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def store(self, revision: int) -> None:
        """Store what was gathered, as made by `revision`."""
