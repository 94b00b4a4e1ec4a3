"""What is counted and timed in this process: Prometheus metrics by their names, units and labels.

Rules that always hold: every label has few values that are known beforehand (routes of the API document, defined
methods, status codes that are answered, kinds of problems): never a code of the trade, a key, an address or anything
that a client writes; no figure of a price or cost is among them; units are base units, counters end in `_total`.

Source: Prometheus documentation, "Metric and label naming", "Instrumentation", "Histograms and summaries".
"""

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

from service.watching.answer_counts import AnswerCounts, Pairs, PairsInMemory, answer_metrics
from service.watching.told_metrics import Told

WAITS = (0.001, 0.01, 0.1, 0.5, 1.0, 5.0, 10.0)
BUILDS = (0.001, 0.005, 0.025, 0.1, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0)


class Figures:
    """The metrics of one process; across the workers of a server they are put together (worker_files.py): answers are
    then counted in `pairs` of a file."""

    def __init__(self, registry: CollectorRegistry, pairs: Pairs | None = None) -> None:
        if pairs is None:
            pairs = in_memory = PairsInMemory()
            registry.register(Told(lambda: answer_metrics(in_memory.rows())))
        self.answers = AnswerCounts(pairs)
        self.problems = Counter(
            "seamcost_http_problems", "Requests answered with a problem, by its kind (see /docs/problems).", ("type",),
            registry=registry)
        self._registry = registry
        self._of_snapshots(registry)
        self._of_the_database(registry)

    def _of_snapshots(self, registry: CollectorRegistry) -> None:
        self.build_seconds = Histogram(
            "seamcost_snapshot_build_duration_seconds", "Time to build a snapshot of all costs, by how it was found.",
            ("how",), buckets=BUILDS, registry=registry)
        self._snapshot: tuple[Gauge, Gauge] | None = None

    def snapshot_built(self, revision: int, at: float) -> None:
        """A worker has built its latest snapshot. One that has built none yet says nothing: 0 would be the least."""
        if self._snapshot is None:
            self._snapshot = (
                Gauge("seamcost_snapshot_revision", "Figures revision of the latest snapshot, in the worker that is "
                      "furthest behind.", multiprocess_mode="livemin", registry=self._registry),
                Gauge("seamcost_snapshot_built_timestamp_seconds", "When the latest snapshot was built, in the worker "
                      "where that is longest ago.", multiprocess_mode="livemin", registry=self._registry))
        for gauge, value in zip(self._snapshot, (revision, at), strict=True):
            gauge.set(value)

    def _of_the_database(self, registry: CollectorRegistry) -> None:
        self.connections_open = Gauge(
            "seamcost_database_pool_connections_open", "Connections that the workers' pools hold.",
            multiprocess_mode="livesum", registry=registry)
        self.connections_in_use = Gauge(
            "seamcost_database_pool_connections_in_use", "Connections of the pools that a transaction has.",
            multiprocess_mode="livesum", registry=registry)
        self.connection_wait = Histogram(
            "seamcost_database_pool_wait_duration_seconds", "Time until a transaction had a connection of the pool.",
            buckets=WAITS, registry=registry)
        self.lock_wait = Histogram(
            "seamcost_ledger_lock_wait_duration_seconds", "Time until a write had the ledger's lock.", buckets=WAITS,
            registry=registry)
        self.retries = Counter(
            "seamcost_database_retries", "Requests tried again, whole, since the database had undone them.",
            registry=registry)
