"""Read which dishes' published figures changed since a place on the timeline: in order, none missing and none twice.

Rules that always hold: whoever takes every change in order holds what a full read gives; a page ends anywhere, also
within a step; a key with `costs:read` alone looks back 35 days and sees the kinds of causes, never a price.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from service.domain.change_causes import Cause
from service.domain.timeline import BEFORE_THE_FIRST, MovedBy, Place
from service.use_cases.documents import Document
from service.use_cases.figure_timeline import DishChange, FigureTimeline, Step
from service.use_cases.ports import Head
from service.use_cases.position import DAYS_OPEN_TO_COSTS_KEYS
from service.use_cases.told_changes import cause_document


class Within(NamedTuple):
    """A page ended within a step: where that leads, and the dish after which it goes on."""

    place: Place
    moved_by: MovedBy
    dish: str


@dataclass(frozen=True, slots=True)
class GoOn:
    """Where a feed goes on: from a place, or from within the step that begins there."""

    place: Place
    within: Within | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """Who asks, and when: the head that was read, the business day, and whether it is a key with costs:read alone."""

    head: Head
    today: date
    costs_only: bool


@dataclass(frozen=True, slots=True)
class ChangePage:
    """A page of changes, where to go on (also when nothing is new yet), and whether there is more now."""

    data: list[Document]
    go_on: GoOn
    more: bool


def read_dish_cost_changes(timeline: FigureTimeline, since: GoOn | None, asked: Asked, limit: int,
                           enough: Callable[[], bool]) -> ChangePage:
    """At most `limit` changes since a place; fewer once it is `enough`. None: from the beginning of the feed.

    The beginning is that of the ledger, or 35 days ago for a key with costs:read alone: then all that was on the menu
    comes onto it first. A cursor from before those days goes on with all that has changed until they begin.
    """
    data: list[Document] = []
    reached = GoOn(BEFORE_THE_FIRST) if since is None else since
    for step in _steps(timeline, since, asked):
        after = "" if reached.within is None else reached.within.dish
        told = [change for change in _told(step, asked.costs_only) if change["dish"] > after]
        room = limit - len(data)
        data += told[:room]
        if len(told) > room:
            within = Within(step.place, step.moved_by, data[-1]["dish"] if room else after)
            return ChangePage(data, GoOn(step.start, within), more=True)
        reached = GoOn(step.place)
        if enough():
            return ChangePage(data, reached, more=timeline.goes_on(step.place, asked.head, asked.today))
    return ChangePage(data, reached, more=False)


def _steps(timeline: FigureTimeline, since: GoOn | None, asked: Asked) -> Iterator[Step]:
    """The steps that the asker is told, the rest of the one it is within first."""
    place = BEFORE_THE_FIRST if since is None else since.place
    if since is not None and since.within is not None:
        begun = timeline.step(place, since.within.place, since.within.moved_by)
        yield begun
        place = begun.place
    if asked.costs_only:
        opens = timeline.place_before(asked.today - timedelta(days=DAYS_OPEN_TO_COSTS_KEYS))
        if place.day < opens.day:
            leap = timeline.step(place, Place(max(place.revision, opens.revision), opens.day),
                                 MovedBy.START if place == BEFORE_THE_FIRST else MovedBy.EARLIER)
            yield leap
            place = leap.place
    yield from timeline.steps(place, asked.head, asked.today)


def _told(step: Step, costs_only: bool) -> Iterator[Document]:
    for change in step.changes:
        before, after = change.before, change.after
        if costs_only:
            before, after = _without_records(before), _without_records(after)
        if before != after:
            yield _document(step, change, before, after, costs_only)


def _document(step: Step, change: DishChange, before: Document | None, after: Document | None, costs_only: bool
              ) -> Document:
    return {
        "dish": change.dish,
        "revision": step.place.revision,
        "as_of": step.place.day.isoformat(),
        "moved_by": step.moved_by.value,
        "causes": _kinds(change.causes) if costs_only else [cause_document(cause) for cause in change.causes],
        "before": before,
        "after": after,
    }


def _kinds(causes: tuple[Cause, ...]) -> list[Document]:
    return [{"kind": kind} for kind in dict.fromkeys(cause.kind for cause in causes)]


def _without_records(row: Document | None) -> Document | None:
    """A row as a key with costs:read alone sees it: of gaps the codes, of allergens only whether all are declared."""
    if row is None:
        return None
    shown = {name: value for name, value in row.items() if name != "allergens_not_declared"}
    return shown | {"gaps": [{"code": code} for code in sorted({gap["code"] for gap in row["gaps"]})]}
