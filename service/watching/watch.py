"""All that watches one process, put together from the settings: what parts of the service are given to tell it.

Everything is off and costs nothing unless a metrics port is set (metrics) or it is asked for (traces); the log of
requests is written by its level.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from functools import partial
from os import getppid
from pathlib import Path
from time import perf_counter, time
from typing import Any, Protocol, TypeVar

from prometheus_client import CollectorRegistry
from prometheus_client.core import GaugeMetricFamily, Metric

from service.settings import Settings
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.watching.figures import Figures
from service.watching.ledger_figures import (
    LedgerFigures,
    Outbox,
    Storage,
    concerns,
    health_metrics,
    ledger_metrics,
    storage_metrics,
)
from service.watching.metrics_page import MetricsPage, metrics_beside
from service.watching.processes import process_metrics
from service.watching.request_figures import RequestFigures
from service.watching.request_log import RequestLog
from service.watching.tracing import Tracing, tracing_of
from service.watching.worker_files import count_in_files, own_answers

T = TypeVar("T")
App = TypeVar("App", bound="WsgiBound")
Checks = Callable[[], Mapping[str, bool]]


class WsgiBound(Protocol):
    """An application whose WSGI callable may be wrapped, as Flask's may."""

    wsgi_app: Any



class WatchedLedger(Protocol):
    """What is read of a ledger by who watches it."""

    def outbox(self, now: datetime) -> Outbox: ...
    def storage(self) -> Storage | None: ...
    def figures(self, now: datetime) -> LedgerFigures: ...


class Watch:
    """What watches a process."""

    def __init__(self, settings: Settings) -> None:
        self.port = settings.metrics_port
        self._folder: Path | None = count_in_files() if self.port else None
        self._registry = CollectorRegistry()
        pairs = None if self._folder is None else own_answers(self._folder)
        self.figures = Figures(self._registry, pairs) if self.port else None
        self.tracing: Tracing | None = tracing_of()

    def of_requests(self) -> tuple[Any, ...]:
        """Who is told of requests."""
        counting = () if self.figures is None else (RequestFigures(self.figures),)
        return (*counting, RequestLog(), *(() if self.tracing is None else (self.tracing,)))

    def building(self, make: Callable[[], T]) -> T:
        """Build a snapshot: timed, and told how it was found and of which revision it is."""
        begun = perf_counter()
        if self.tracing is not None:
            with self.tracing.span("snapshot build"):
                made: Any = make()
        else:
            made = make()
        if self.figures is not None:
            self.figures.build_seconds.labels(made.how).observe(perf_counter() - begun)
            self.figures.snapshot_built(made.position.revision, time())
        return made  # type: ignore[no-any-return]

    def lock_waited(self, seconds: float) -> None:
        """A write had the ledger's lock after so long."""
        if self.figures is not None:
            self.figures.lock_wait.observe(seconds)

    def beside(self, app: App, ledger: WatchedLedger, readiness: Checks, clock: Callable[[], datetime]) -> App:
        """The application, which from now on shows the metrics to who comes by their port, if there is one."""
        if self.port is not None:
            page = MetricsPage(self._registry, self._folder, partial(_told, ledger, readiness, clock))
            app.wsgi_app = metrics_beside(app.wsgi_app, self.port, page)
        return app


def concerns_of(ledger: WatchedLedger, clock: Callable[[], datetime]) -> Mapping[str, bool]:
    """What somebody should look at though the service is ready."""
    now = clock()
    return concerns(ledger.outbox(now), ledger.storage(), now)


def _told(ledger: WatchedLedger, readiness: Checks, clock: Callable[[], datetime]
          ) -> Iterator[Metric]:
    """All that is read when somebody scrapes. A database that is gone is told, and the rest is told without it."""
    yield from process_metrics(getppid())
    storage = ledger.storage()
    if storage is not None:
        yield from storage_metrics(storage)
    now, told = clock(), []
    try:
        figures = ledger.figures(now)
        told = [*ledger_metrics(figures, now),
                *health_metrics({**readiness(), **concerns(figures.outbox, storage, now)})]
    except LedgerUnavailable:
        pass
    yield GaugeMetricFamily("seamcost_database_up", "Whether the database answers (1) or not (0).", float(bool(told)))
    yield from told
