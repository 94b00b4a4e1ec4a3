"""Acknowledge a margin alert: that somebody saw it, with a note. An entry of the ledger; it moves no figure.

Rules that always hold: the same note again takes no revision; another one is kept beside those before, and shown.
"""

from datetime import date

from service.domain.margin_alert import MarginAlert
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.documents import Document
from service.use_cases.margin_alert_documents import acknowledgement_document, alert_documents
from service.use_cases.margin_alerts_port import Acknowledgement
from service.use_cases.ports import Asker, Entry, Head, Ledger, WriteWork
from service.use_cases.raise_margin_alerts import MarginWatch
from service.use_cases.read_margin_alerts import LONGEST_WALK_SECONDS, found_alert

KIND = "margin_alert"


def acknowledge_margin_alert(ledger: Ledger, watch: MarginWatch, head: Head, today: date, alert_id: str, note: str,
                             asker: Asker) -> Receipt:
    """Note that somebody saw an alert; the alert as it stands then.

    Raises:  NotFound; IdempotencyKeyReused.
    """
    alert = found_alert(ledger, watch.look(head, today, LONGEST_WALK_SECONDS), alert_id)
    [shown] = alert_documents(ledger, [alert], {}, head.figures_revision)

    def effect(work: WriteWork) -> Document:
        latest = work.margin_alerts.latest(alert_id)
        if latest is None or latest.note != note:
            latest = _kept(work, alert, note, asker)
        return shown | {"acknowledgement": acknowledgement_document(latest)}

    return answered_once(ledger, asker, effect, moves_figures=False)


def _kept(work: WriteWork, alert: MarginAlert, note: str, asker: Asker) -> Acknowledgement:
    mark = work.next_mark(Entry("acknowledge", KIND, alert.id, {
        "id": alert.id, "dish": alert.dish, "crossed": alert.crossed.value, "revision": alert.place.revision,
        "as_of": alert.place.day.isoformat(), "note": note}))
    kept = Acknowledgement(alert.id, note, asker.name, work.now, mark)
    work.margin_alerts.acknowledge(kept)
    return kept
