"""Read margin alerts: which dishes crossed their targets, in which direction, when and by what.

Rules that always hold: whoever reads has the timeline walked up to now first, as far as that goes in the time given;
what could not be stored is shown all the same.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from service.domain.errors import NotFound, WrongValue
from service.domain.margin_alert import MarginAlert
from service.use_cases.documents import Document
from service.use_cases.margin_alert_documents import alert_documents
from service.use_cases.margin_alerts_port import Acknowledgement, AlertsAsked
from service.use_cases.ports import Head, Ledger
from service.use_cases.raise_margin_alerts import MarginWatch, Watched

LONGEST_WALK_SECONDS = 2.0
"""How long the timeline is walked before the answer goes out as far as it is: there is more then."""
PASSING_WALK_SECONDS = 0.2
"""The same where nobody asked for alerts alone: in passing, and for a page."""
_BEYOND = 2**53


@dataclass(frozen=True, slots=True)
class AlertPage:
    """A page of alerts, the latest first; the number before which the next one starts (None: this is the last)."""

    data: list[Document]
    next_before: int | None
    watched: Watched


def list_margin_alerts(ledger: Ledger, watch: MarginWatch, head: Head, today: date, asked: AlertsAsked,
                       before: int | None, limit: int) -> AlertPage:
    """At most `limit` alerts, the latest first.

    Raises:  WrongValue for days that end before they begin.
    """
    if asked.start is not None and asked.end is not None and asked.end < asked.start:
        raise WrongValue(f"{asked.end} is before {asked.start}: give the first day as `from` and the last as `to`.",
                         parameter="to")
    watched = watch.look(head, today, LONGEST_WALK_SECONDS)
    found: list[MarginAlert] = []
    for alert in _matching(ledger, watched, asked, before or _BEYOND, limit + 1):
        found.append(alert)
        if len(found) > limit:
            break
    page = found[:limit]
    noted = ledger.margin_alerts.acknowledgements([alert.id for alert in page])
    return AlertPage(alert_documents(ledger, page, noted, head.figures_revision),
                     page[-1].number if len(found) > limit else None, watched)


def read_margin_alert(ledger: Ledger, watch: MarginWatch, head: Head, today: date, alert_id: str) -> Document:
    """One alert.

    Raises:  NotFound.
    """
    alert = found_alert(ledger, watch.look(head, today, LONGEST_WALK_SECONDS), alert_id)
    noted = ledger.margin_alerts.acknowledgements([alert_id])
    return alert_documents(ledger, [alert], noted, head.figures_revision)[0]


def open_margin_alerts(ledger: Ledger, watch: MarginWatch, head: Head, today: date) -> Mapping[str, Document]:
    """The open alert of each dish that is outside its target: since when, by which change in words, and the note.

    What a page says of dishes that need attention. It costs a few statements, however long the history.
    """
    watched = watch.look(head, today, PASSING_WALK_SECONDS)
    stored = [alert for alert in ledger.margin_alerts.open() if alert.number <= watched.stored]
    alerts = [watched.as_it_stands(alert) for alert in (*stored, *watched.pending)]
    still = [alert for alert in alerts if alert.open]
    noted = ledger.margin_alerts.acknowledgements([alert.id for alert in still])
    documents = alert_documents(ledger, still, noted, head.figures_revision)
    return {str(document["dish"]): document for document in documents}


def found_alert(ledger: Ledger, watched: Watched, alert_id: str) -> MarginAlert:
    """An alert by its id, as it stands.

    Raises:  NotFound.
    """
    pending = next((alert for alert in watched.pending if alert.id == alert_id), None)
    alert = pending or ledger.margin_alerts.one(alert_id)
    if alert is None:
        raise NotFound(f"There is no margin alert {alert_id!r}. /v1/margin-alerts lists those there are.")
    return watched.as_it_stands(alert)


def _matching(ledger: Ledger, watched: Watched, asked: AlertsAsked, before: int, at_once: int
              ) -> Iterator[MarginAlert]:
    """The alerts that are asked for, from a number down: those that are not stored yet first."""
    noted: Mapping[str, Acknowledgement] = {}
    if watched.pending:
        noted = ledger.margin_alerts.acknowledgements([alert.id for alert in watched.pending])
    for alert in map(watched.as_it_stands, reversed(watched.pending)):
        if alert.number < before and asked.holds(alert, alert.id in noted):
            yield alert
    before = min(before, watched.stored + 1)
    stored = replace(asked, open=None) if watched.closes_some else asked
    while True:
        rows = ledger.margin_alerts.page(stored, before, at_once)
        yield from (alert for alert in map(watched.as_it_stands, rows) if asked.open in (None, alert.open))
        if len(rows) < at_once:
            return
        before = rows[-1].number
