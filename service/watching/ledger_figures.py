"""How the ledger and its outbox stand, as whoever is scraped reads it from the database, and what is amiss with that.

These figures are of the ledger, not of a process: every host tells the same, so rules take the greatest, not the sum
(`max without (instance)`). The deliverer needs no listener: its heartbeat and what came of its tries are rows.

Source: Prometheus documentation, "Writing exporters".
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric

HEARTBEAT_STALE = timedelta(seconds=90)
"""Nine beats of a deliverer; as long as what it has claimed stays its own."""
LATE = timedelta(minutes=5)
"""What is due for longer while a deliverer beats: there are too few, or it cannot send."""
LOW_DISK_BYTES = 256 * 1024 * 1024
"""A price list of 100 000 rows and the log that it goes through need less."""


@dataclass(frozen=True, slots=True)
class Outbox:
    """What the deliverer owes. Shape: `heartbeat` None: no deliverer ever beat; `oldest_due` None: nothing is due."""

    active_webhooks: int = 0
    heartbeat: datetime | None = None
    oldest_due: datetime | None = None


@dataclass(frozen=True, slots=True)
class Storage:
    """Where a SQLite ledger lies. Units: bytes."""

    free: int
    log: int
    writable: bool


@dataclass(frozen=True, slots=True)
class LedgerFigures:
    """How a ledger stands."""

    revision: int
    figures_revision: int
    head_made_at: datetime | None
    told_revision: int | None
    alerts_revision: int
    outbox: Outbox
    waiting: int = 0
    dead: int = 0
    outcomes: Mapping[str, int] = field(default_factory=dict)


def concerns(outbox: Outbox, storage: Storage | None, now: datetime) -> Mapping[str, bool]:
    """What somebody should look at though cost reads are answered: each True when well.

    None of it makes the service unready: a till must not lose its costs because webhooks are late or a disk fills.
    """
    beats = outbox.heartbeat is not None and now - outbox.heartbeat <= HEARTBEAT_STALE
    late = outbox.oldest_due is not None and now - outbox.oldest_due > LATE
    well = {"deliverer": beats or not outbox.active_webhooks, "outbox": not late}
    if storage is not None:
        well |= {"disk": storage.free >= LOW_DISK_BYTES, "disk_writable": storage.writable}
    return well


def ledger_metrics(figures: LedgerFigures, now: datetime) -> Iterator[Metric]:
    """The figures as Prometheus reads them."""
    outbox = figures.outbox
    yield _gauge("ledger_head_revision", "Revision of the ledger's head.", figures.revision)
    yield _gauge("ledger_figures_revision", "Latest revision that can move a figure.", figures.figures_revision)
    if figures.head_made_at is not None:
        yield _gauge("ledger_head_timestamp_seconds", "When the head was recorded.", figures.head_made_at.timestamp())
    yield _gauge("margin_alert_walk_behind_revisions", "Revisions of figures that were not walked for margin alerts.",
                 figures.figures_revision - figures.alerts_revision)
    behind = 0 if figures.told_revision is None else figures.figures_revision - figures.told_revision
    yield _gauge("webhook_telling_behind_revisions", "Revisions of figures that webhooks were not told of.", behind)
    yield _gauge("webhooks_active", "Webhooks that are told.", outbox.active_webhooks)
    yield _gauge("webhook_outbox_messages", "Messages that wait to be delivered.", figures.waiting)
    yield _gauge("webhook_outbox_oldest_due_age_seconds", "How long the oldest message that is due has been so.",
                 _age(outbox.oldest_due, now))
    yield _gauge("webhook_dead_letter_messages", "Messages kept whose tries ended in vain.", figures.dead)
    if outbox.active_webhooks or outbox.heartbeat is not None:
        yield _gauge("deliverer_heartbeat_age_seconds", "How long ago a deliverer beat; infinite: never.",
                     math.inf if outbox.heartbeat is None else _age(outbox.heartbeat, now))
    tries = CounterMetricFamily("seamcost_webhook_tries", "Tries to deliver a message, by what came of them.",
                                labels=("came",))
    for came, count in sorted(figures.outcomes.items()):
        tries.add_metric((came,), count)
    yield tries


def storage_metrics(storage: Storage) -> Iterator[Metric]:
    """Where a SQLite ledger lies, as Prometheus reads it."""
    yield _gauge("sqlite_disk_free_bytes", "Free on the disk that holds the ledger.", storage.free)
    yield _gauge("sqlite_write_ahead_log_bytes", "Size of the write-ahead log.", storage.log)


def health_metrics(well: Mapping[str, bool]) -> Iterator[Metric]:
    """What /health/ready goes by, check by check."""
    checks = GaugeMetricFamily("seamcost_health_check", "Whether a check is well (1) or not (0).", labels=("check",))
    for name, is_well in sorted(well.items()):
        checks.add_metric((name,), float(is_well))
    yield checks


def _age(at: datetime | None, now: datetime) -> float:
    return 0.0 if at is None else max(0.0, (now - at).total_seconds())


def _gauge(name: str, told: str, value: float) -> Metric:
    return GaugeMetricFamily(f"seamcost_{name}", told, value)
