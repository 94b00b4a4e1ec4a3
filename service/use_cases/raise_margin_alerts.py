"""Raise margin alerts: walk the timeline from where the cursor stands, and store what crossed a target.

Rules that always hold: alerts follow from the steps of the timeline and from nothing else, so that a walk from the
beginning raises the same ones again; they are stored with the cursor's move, if it still stands where it did, so that
none is raised twice or left out, whoever else walks at the same time; where nothing can be stored they are known all
the same, from memory. A walk is bounded, and goes on where it ended.
"""

import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from hashlib import sha256

from service.domain.margin_alert import AlertNamed, MarginAlert
from service.domain.target_crossing import Crossing
from service.domain.timeline import MovedBy, Place
from service.use_cases.figure_timeline import DishChange, FigureTimeline, Step
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.margin_alerts_port import AlertCursor, Raised
from service.use_cases.ports import Head, Ledger
from service.use_cases.told_changes import causes_told, crossed, figures_told

MOST_ALERTS, MOST_STEPS_UNSTORED, MOST_TRIES = 1_000, 50, 3
"""About how many alerts are stored at once; after how many steps the cursor is moved although nothing crossed."""
_ID_DIGITS = 24
Outside = Mapping[str, AlertNamed]
"""The open alert of each dish that is outside its target."""


def alerts_of(step: Step, outside: Outside, last_number: int) -> list[MarginAlert]:
    """What a step raises, after so many alerts and with these open."""
    alerts: list[MarginAlert] = []
    for change in step.changes:
        turn = crossed(change, change.dish in outside)
        if turn is not None:
            alerts.append(_alert(step, change, turn, outside.get(change.dish), last_number + len(alerts) + 1))
    return alerts


def alert_id(place: Place, moved_by: MovedBy, dish: str) -> str:
    """The id of the alert of a dish at a place of the timeline: the same whoever raises it, and whenever.

    Shape:   `alert-` and 24 hexadecimal digits: a code, as paths take it, however long the dish's is.
    """
    said = f"{place.revision}\n{place.day.isoformat()}\n{moved_by.value}\n{dish}"
    return f"alert-{sha256(said.encode()).hexdigest()[:_ID_DIGITS]}"


def outside_after(outside: Outside, alerts: Iterable[MarginAlert]) -> dict[str, AlertNamed]:
    """Which are open once these were raised."""
    after = dict(outside)
    for alert in alerts:
        if alert.crossed is Crossing.OUTSIDE:
            after[alert.dish] = alert.named
        else:
            del after[alert.dish]
    return after


def _alert(step: Step, change: DishChange, turn: Crossing, opened: AlertNamed | None, number: int) -> MarginAlert:
    row = change.after or change.before or {}
    told = {"name": row["name"], **causes_told(change.causes),
            "before": figures_told(change.before), "after": figures_told(change.after)}
    return MarginAlert(number, alert_id(step.place, step.moved_by, change.dish), change.dish, row["section"], turn,
                       step.place, step.moved_by, told, None if turn is Crossing.OUTSIDE else opened)


@dataclass(frozen=True)
class Watched:
    """How far the timeline was walked, what of it is not stored, and whether that is all there is by now.

    Shape:   alerts with numbers up to `stored` are to be read from the ledger, the later ones are `pending`.
    """

    place: Place
    up_to_date: bool
    stored: int
    pending: tuple[MarginAlert, ...]

    def as_it_stands(self, alert: MarginAlert) -> MarginAlert:
        """An alert, closed by a pending one if it is."""
        closer = self._closers.get(alert.number)
        return alert if closer is None else replace(alert, closed_by=closer)

    @property
    def closes_some(self) -> bool:
        """Whether a pending alert closes another one."""
        return bool(self._closers)

    @cached_property
    def _closers(self) -> Mapping[int, AlertNamed]:
        """By number of what they close: one step of a large menu may leave thousands pending."""
        return {alert.closes.number: alert.named for alert in self.pending if alert.closes is not None}


@dataclass
class _Walk:
    """Where a walk has got to since the cursor that it began at."""

    cursor: AlertCursor
    place: Place
    outside: Outside
    pending: list[MarginAlert] = field(default_factory=list)
    steps: int = 0
    by_date: bool = False

    def take(self, step: Step) -> None:
        alerts = alerts_of(step, self.outside, self.cursor.last_number + len(self.pending))
        self.pending += alerts
        self.outside = outside_after(self.outside, alerts) if alerts else self.outside
        self.place, self.by_date = step.place, step.moved_by is MovedBy.DATE
        self.steps += 1

    def stored(self) -> "_Walk":
        """The walk that goes on from here, once this one is stored."""
        cursor = AlertCursor(self.cursor.version + 1, self.place, self.cursor.last_number + len(self.pending))
        return _Walk(cursor, self.place, self.outside)


class MarginWatch:
    """Watches the targets of one ledger. Thread-safe; one thread walks at a time. `clock` counts seconds."""

    def __init__(self, ledger: Ledger, timeline: FigureTimeline, clock: Callable[[], float]) -> None:
        self._ledger, self._timeline, self._clock = ledger, timeline, clock
        self._walk: _Walk | None = None
        self._nothing_new_at: tuple[int, date] | None = None
        self._lock = threading.Lock()

    def look(self, head: Head, today: date, seconds: float) -> Watched:
        """Walk up to a head on a day, or for so long, one step at least; store what there is to store."""
        until = self._clock() + seconds
        with self._lock:
            for tries_left in reversed(range(MOST_TRIES)):
                walk = self._going_on(head)
                self._go(walk, head, today, until)
                if not tries_left or self._store(walk, head):
                    break
                head = self._ledger.head()
                today = self._ledger.today_at(head)
            return self._watched(self._walk or walk, head, today)

    def look_in_passing(self, seconds: float) -> None:
        """Walk a little, so that whoever looks next need not wait. Costs one statement where nothing is new."""
        head = self._ledger.head()
        seen = (head.figures_revision, self._ledger.today_at(head))
        if seen != self._nothing_new_at and self.look(head, seen[1], seconds).up_to_date:
            self._nothing_new_at = seen

    def _going_on(self, head: Head) -> _Walk:
        """The walk of this worker, or one that begins at the cursor where that has moved, or time was ahead."""
        cursor = self._ledger.margin_alerts.cursor()
        walk = self._walk
        if walk is None or walk.cursor != cursor or self._was_ahead(walk, head):
            walk = self._walk = self._begun(cursor)
        return walk

    def _begun(self, cursor: AlertCursor) -> _Walk:
        """A walk from the cursor, with the alerts that were open there: read again if it moved meanwhile."""
        alerts = self._ledger.margin_alerts
        while True:
            outside = {one.dish: one.named for one in alerts.open()}
            now = alerts.cursor()
            if now == cursor:
                return _Walk(cursor, cursor.place, outside)
            cursor = now

    def _was_ahead(self, walk: _Walk, head: Head) -> bool:
        """Whether a day was begun in memory, and then a write that was under way at midnight came before it."""
        if not walk.by_date or head.figures_revision <= walk.place.revision:
            return False
        return self._ledger.figure_revisions(walk.place.revision, 1)[0].on_date < walk.place.day

    def _watched(self, walk: _Walk, head: Head, today: date) -> Watched:
        up_to_date = not self._timeline.goes_on(walk.place, head, today)
        reached = max(walk.place, Place(head.figures_revision, today)) if up_to_date else walk.place
        return Watched(reached, up_to_date, walk.cursor.last_number, tuple(walk.pending))

    def _go(self, walk: _Walk, head: Head, today: date, until: float) -> None:
        for step in self._timeline.steps(walk.place, head, today):
            walk.take(step)
            if len(walk.pending) >= MOST_ALERTS or self._clock() > until:
                return

    def _store(self, walk: _Walk, head: Head) -> bool:
        """Whether all is well: False where somebody else was faster, and the walk is to begin anew."""
        if not walk.pending and walk.steps < MOST_STEPS_UNSTORED:
            return True
        ends_with_a_day = walk.by_date and walk.place.revision >= head.figures_revision
        raised = Raised(walk.pending, walk.place, head.figures_revision if ends_with_a_day else None)
        try:
            stored = self._ledger.margin_alerts.store(walk.cursor, raised)
        except LedgerUnavailable:
            return True
        self._walk = walk.stored() if stored else None
        return stored
