"""Telling who watches how the pools of connections fare, and how long a write waits for the ledger's lock.

Single quick statements (quick_statements.py) have few connections of their own and are not told of.

Source: SQLAlchemy 2.1, core events of `Pool`.
"""

from time import perf_counter
from typing import Any

from sqlalchemy import Pool, event

from service.persistence.engines import Engines
from service.watching.figures import Figures


def watch_pools(engines: Engines, figures: Figures) -> None:
    """Have the pools of an open database told of; one that several kinds of work share, once."""
    kinds = (engines.writing, engines.reading, engines.passing)
    for pool in {id(kind.pool): kind.pool for kind in kinds}.values():
        _watch(pool, figures)


def _watch(pool: Pool, figures: Figures) -> None:
    opened, used, waited = figures.connections_open, figures.connections_in_use, figures.connection_wait
    event.listen(pool, "connect", lambda *_: opened.inc())
    event.listen(pool, "close", lambda *_: opened.dec())
    event.listen(pool, "checkout", lambda *_: used.inc())
    event.listen(pool, "checkin", lambda *_: used.dec())
    connect = pool.connect

    def timed() -> Any:
        begun = perf_counter()
        try:
            return connect()
        finally:
            waited.observe(perf_counter() - begun)

    pool.connect = timed  # type: ignore[method-assign]
