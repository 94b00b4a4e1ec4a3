"""Margin alerts: what the use cases need to store what was raised, to read it, and to note who saw it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from service.domain.history import Mark
from service.domain.margin_alert import MarginAlert
from service.domain.timeline import Place


@dataclass(frozen=True, slots=True)
class AlertCursor:
    """How far the timeline was walked for alerts. Shape: `version` grows whenever it moves; 0 before it ever did."""

    version: int
    place: Place
    last_number: int


@dataclass(frozen=True, slots=True)
class Raised:
    """Alerts in their order, and where the cursor stands once they are stored.

    Shape:   `head` is the revision of figures beyond which nothing may have been recorded, where the last step was a
             day that began: a write that is under way could still belong to the day before. None: it does not matter.
    """

    alerts: Sequence[MarginAlert]
    place: Place
    head: int | None


@dataclass(frozen=True, slots=True)
class AlertsAsked:
    """Which alerts; None does not narrow them. Days are those of the crossings, both inclusive."""

    open: bool | None = None
    acknowledged: bool | None = None
    dish: str | None = None
    section: str | None = None
    start: date | None = None
    end: date | None = None

    def holds(self, alert: MarginAlert, acknowledged: bool) -> bool:
        """Whether an alert is asked for."""
        return (self.open in (None, alert.open) and self.acknowledged in (None, acknowledged)
                and self.dish in (None, alert.dish) and self.section in (None, alert.section)
                and (self.start is None or alert.place.day >= self.start)
                and (self.end is None or alert.place.day <= self.end))


@dataclass(frozen=True, slots=True)
class Acknowledgement:
    """That somebody saw an alert: with which note, when, and by which entry of the ledger."""

    alert: str
    note: str
    who: str
    at: datetime
    made: Mark


class MarginAlerts(Protocol):
    """The alerts of a ledger, outside of a write that takes a revision."""

    def cursor(self) -> AlertCursor:
        """How far alerts were stored, in one statement."""

    def store(self, cursor: AlertCursor, raised: Raised) -> bool:
        """Store alerts and move the cursor, in one transaction; False, and nothing, where another was faster or more
        has been recorded. It does not wait for other writers.

        Raises:  LedgerUnavailable, also where the database cannot be written.
        """

    def open(self) -> Sequence[MarginAlert]:
        """The alerts of dishes that are outside their target, by dish."""

    def page(self, asked: AlertsAsked, before: int, limit: int) -> Sequence[MarginAlert]:
        """At most `limit` alerts with a number below `before`, the latest first."""

    def one(self, alert_id: str) -> MarginAlert | None: ...

    def acknowledgements(self, alert_ids: Collection[str]) -> Mapping[str, Acknowledgement]:
        """The latest acknowledgement of each that has one."""


class MarginAlertWork(Protocol):
    """Acknowledgements within a write: read under the lock, and stored with the revision whose entry says so."""

    def latest(self, alert_id: str) -> Acknowledgement | None:
        """The latest acknowledgement of an alert."""

    def acknowledge(self, acknowledgement: Acknowledgement) -> None:
        """Keep another one beside those that there are."""
