"""Margin alerts as documents: what crossed its target, when, by what, with the figures, and who took note."""

from collections.abc import Callable, Iterable, Mapping
from functools import cache

from service.domain.kitchen import Kitchen
from service.domain.margin_alert import AlertNamed, MarginAlert
from service.domain.timeline import MovedBy
from service.use_cases.alert_words import causes_in_a_sentence
from service.use_cases.day_began import day_began
from service.use_cases.documents import Document, moment
from service.use_cases.margin_alerts_port import Acknowledgement
from service.use_cases.ports import Ledger
from service.use_cases.told_changes import CAUSE, FIGURES, in_order


def alert_documents(ledger: Ledger, alerts: Iterable[MarginAlert], noted: Mapping[str, Acknowledgement],
                    known_at: int) -> list[Document]:
    """Alerts as they are shown, by the names and the clock that are known at a revision."""
    listed = list(alerts)
    kitchen = ledger.kitchen(known_at)
    made = ledger.revisions({alert.place.revision for alert in listed if alert.moved_by is MovedBy.REVISION})
    began = cache(lambda day: day_began(kitchen, day))

    def when(alert: MarginAlert) -> Document:
        if alert.moved_by is MovedBy.DATE:
            return {"at": moment(began(alert.place.day)), "who": None}
        told = made[alert.place.revision]
        return {"at": moment(told.made_at), "who": told.who}

    return [_document(alert, when, kitchen, noted.get(alert.id)) for alert in listed]


def _document(alert: MarginAlert, when: Callable[[MarginAlert], Document], kitchen: Kitchen,
              noted: Acknowledgement | None) -> Document:
    told = alert.told
    causes = [in_order(cause, CAUSE) for cause in told["causes"]]
    new = alert.dish if told["before"] is None else None
    return {
        "id": alert.id, "dish": alert.dish, "name": told["name"], "section": alert.section,
        "crossed": alert.crossed.value, "open": alert.open,
        "revision": alert.place.revision, "as_of": alert.place.day.isoformat(), "moved_by": alert.moved_by.value,
        **when(alert),
        "because": causes_in_a_sentence(causes, told["more_causes"], kitchen, new),
        "causes": causes, "more_causes": told["more_causes"],
        "before": told["before"] and in_order(told["before"], FIGURES),
        "after": told["after"] and in_order(told["after"], FIGURES),
        "closes": _named(alert.closes), "closed_by": _named(alert.closed_by),
        "acknowledgement": None if noted is None else acknowledgement_document(noted)}


def acknowledgement_document(noted: Acknowledgement) -> Document:
    """Who saw an alert, when, and with which note."""
    return {"note": noted.note, "who": noted.who, "at": moment(noted.at), "revision": noted.made.revision}


def _named(alert: AlertNamed | None) -> Document | None:
    return None if alert is None else {
        "id": alert.id, "crossed": alert.crossed.value, "revision": alert.place.revision,
        "as_of": alert.place.day.isoformat()}
