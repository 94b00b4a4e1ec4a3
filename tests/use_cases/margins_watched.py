"""Margin alerts in tests: watched by workers that know nothing of each other, and replayed by a fold over all steps."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from service.domain.margin_alert import AlertNamed, MarginAlert
from service.domain.timeline import BEFORE_THE_FIRST
from service.persistence.ledger import SqlLedger
from service.use_cases.figure_timeline import FigureTimeline
from service.use_cases.margin_alerts_port import AlertsAsked
from service.use_cases.raise_margin_alerts import MarginWatch, Watched, alerts_of, outside_after
from service.use_cases.read_margin_alerts import list_margin_alerts
from service.use_cases.snapshots import Snapshots

EVERYTHING = AlertsAsked()


@dataclass
class Worker:
    """One of those who look: a process of its own, as far as memory goes. Its clock stands, so that it never tires."""

    ledger: SqlLedger
    clock: Callable[[], float] = lambda: 0.0
    watch: MarginWatch = field(init=False)

    def __post_init__(self) -> None:
        self.watch = MarginWatch(self.ledger, FigureTimeline(self.ledger, Snapshots(self.ledger)), self.clock)

    def look(self) -> Watched:
        head = self.ledger.head()
        return self.watch.look(head, self.ledger.today_at(head), 0)

    def listed(self, asked: AlertsAsked = EVERYTHING, limit: int = 100) -> list[dict[str, Any]]:
        """All that are asked for, page by page, the latest first."""
        head, rows, before = self.ledger.head(), [], None
        while True:
            page = list_margin_alerts(self.ledger, self.watch, head, self.ledger.today_at(head), asked, before, limit)
            rows += page.data
            if page.next_before is None:
                return rows
            before = page.next_before

    def told(self, asked: AlertsAsked = EVERYTHING) -> list[tuple[str, str]]:
        """Dish and crossing of each, the earliest first."""
        return [(row["dish"], row["crossed"]) for row in reversed(self.listed(asked))]


def stored(ledger: SqlLedger) -> list[MarginAlert]:
    """The alerts that are stored, the earliest first, as they were raised."""
    return list(reversed(ledger.margin_alerts.page(EVERYTHING, 10**9, 10**6)))


def replayed(ledger: SqlLedger) -> list[MarginAlert]:
    """What follows from the ledger alone, from its beginning, whatever is stored."""
    alerts: list[MarginAlert] = []
    outside: dict[str, AlertNamed] = {}
    timeline = FigureTimeline(ledger, Snapshots(ledger))
    for step in timeline.steps(BEFORE_THE_FIRST, ledger.head(), ledger.today()):
        raised = alerts_of(step, outside, len(alerts))
        outside = outside_after(outside, raised)
        alerts += raised
    return alerts


def as_raised(alerts: list[MarginAlert]) -> list[tuple[Any, ...]]:
    """All of each alert but what closed it later."""
    return [(one.number, one.id, one.dish, one.section, one.crossed, one.place, one.moved_by, dict(one.told),
             one.closes) for one in alerts]
