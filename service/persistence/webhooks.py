"""The webhooks of a ledger in their tables."""

from sqlalchemy import Connection

from service.persistence.engines import Engines


class SqlWebhooks:
    """The `Webhooks` port."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines


class SqlWebhookWork:
    """The `WebhookWork` port, on a connection that holds the head's lock."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def store(self, revision: int) -> None:
        """Store what was gathered, as made by `revision`."""
