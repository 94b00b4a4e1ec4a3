"""PostgreSQL through psycopg 3: time-outs on every connection, UTC, a pool that notices a server that went away.

Writers lock the head row first, so READ COMMITTED is enough, and it is set: where a database's own default is stricter,
each writer that waited for the head would be undone instead of going on. Readers are in read-only transactions.
Acknowledged means durable: a `synchronous_commit` that is off is on here, whatever the database's own.
"""

from typing import Any

import psycopg
from sqlalchemy import URL, Engine, create_engine, event

SESSION = {
    "TimeZone": "UTC",
    "default_transaction_isolation": "read committed",
    "statement_timeout": "60s",
    "lock_timeout": "10s",
    "idle_in_transaction_session_timeout": "60s",
}
SYNCHRONOUS_COMMIT = "coalesce(nullif(current_setting('synchronous_commit'), 'off'), 'on')"
"""What is stricter than `on`, or waits for a standby, is the operator's choice, and stays."""

NETWORK = {
    "connect_timeout": "5",
    "keepalives_idle": "30",
    "keepalives_interval": "10",
    "keepalives_count": "3",
    "tcp_user_timeout": "30000",
}
"""How long a server that does not answer is waited for, unless the URL says otherwise: without these a host that went
away, or one that takes the connection and stays silent, holds a request for hours."""


def set_session(connection: psycopg.Connection[Any]) -> None:
    """Set what every connection needs. SET works through a connection pooler too, start-up options often do not."""
    values = {name: f"'{value}'" for name, value in SESSION.items()} | {"synchronous_commit": SYNCHRONOUS_COMMIT}
    settings = ", ".join(f"set_config('{name}', {value}, false)" for name, value in values.items())
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {settings}")
    if not connection.autocommit:
        connection.commit()


def connect(url: URL) -> psycopg.Connection[Any]:
    """A connection of the driver that commits by itself: for single statements."""
    told = _not_waiting_forever(url).set(drivername="postgresql").render_as_string(False)
    connection = psycopg.connect(told, autocommit=True)
    set_session(connection)
    return connection


def engine(url: URL, connections: int, patience_seconds: float = 10.0) -> Engine:
    """An engine over one pool, which holds so many connections at most: one more who asks waits so long."""
    made = create_engine(
        _not_waiting_forever(url), pool_size=connections, max_overflow=0, pool_timeout=patience_seconds,
        pool_recycle=1800, pool_pre_ping=True, hide_parameters=True)

    @event.listens_for(made, "connect")
    def _connected(connection: Any, _record: Any) -> None:
        set_session(connection)

    return made


def reading(made: Engine) -> Engine:
    """The same pool, for transactions that cannot write."""
    return made.execution_options(postgresql_readonly=True)


def _not_waiting_forever(url: URL) -> URL:
    return url.update_query_dict({name: value for name, value in NETWORK.items() if name not in url.query})
