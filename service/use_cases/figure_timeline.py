"""The timeline of figures, step by step: which dishes' published figures each step moved, from what to what, and why.

What the change feed, webhooks and alerts walk. Rules that always hold: a step is a function of its two places alone, so
every worker finds the same; what begins at midnight is a step of its own, with no write; steps are in the order in
which figures moved, none missing and none twice.
"""

import threading
from collections import OrderedDict, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from service.domain.change_causes import OF_FIGURES, Cause, causes_by_dish, ingredients_of
from service.domain.history import Mark
from service.domain.price_turns import Decided, decided
from service.domain.timeline import BEFORE_THE_FIRST, MovedBy, Place, next_day_of_figures, started_on
from service.use_cases.documents import Document
from service.use_cases.figures_under import moved_between
from service.use_cases.ports import Head, Ledger
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots
from service.use_cases.timeline_port import FigureRevision, KitchenWalk

MOST_KEPT_CHANGES = 20_000
"""How many changes of dishes the kept steps hold together."""
KEPT_WALKS, KEPT_NEXT_DAYS = 3, 1_000
_MOST_ENTRIES = 1_000_000
NOT_FIGURES = ("as_of", "revision", "last_complete")
"""Members of a row that say where it stands or look back, and move by themselves."""


@dataclass(frozen=True, slots=True)
class DishChange:
    """A dish whose published figures moved. None: it was not on the menu before, or is not after.

    Shape:   rows as in the list of dish costs, without `as_of`, `revision` and `last_complete`.
    """

    dish: str
    before: Document | None
    after: Document | None
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class PriceChange:
    """An ingredient for which another price decides, or none any more, and by what."""

    ingredient: str
    before: Decided
    after: Decided
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """From one place to another: the dishes and the ingredients' prices that moved, each in the order of the codes."""

    start: Place
    place: Place
    moved_by: MovedBy
    changes: tuple[DishChange, ...]
    prices: tuple[PriceChange, ...]


class _Walk:
    """Somebody's way along the timeline: the kitchens that grow on it, and the snapshot where it stands."""

    def __init__(self, kitchens: KitchenWalk) -> None:
        self.kitchens = kitchens
        self.snapshot: Snapshot | None = None


class FigureTimeline:
    """The timeline of one ledger. Thread-safe; one thread builds a step at a time, and recent steps are kept."""

    def __init__(self, ledger: Ledger, snapshots: Snapshots) -> None:
        self._ledger, self._snapshots = ledger, snapshots
        self._steps: OrderedDict[tuple[Place, Place, MovedBy], Step] = OrderedDict()
        self._walks: OrderedDict[Place, _Walk] = OrderedDict()
        self._next_days: OrderedDict[Place, date | None] = OrderedDict()
        self._kept_changes = 0
        self._lock = threading.RLock()

    def steps(self, since: Place, head: Head, today: date) -> Iterator[Step]:
        """The steps from a place up to a head on a day, one after another as they are asked for."""
        place = since
        newest = Place(head.figures_revision, today)
        while (coming := self._next(place, head, today)) is not None:
            step = self.step(place, *coming, newest=coming[0] == newest)
            yield step
            place = step.place

    def step(self, start: Place, place: Place, moved_by: MovedBy, newest: bool = False) -> Step:
        """What lies between two places; the figures of the `newest` are the worker's own, made once for every use.

        By what moved, too: all that came before the days that a key may look back at can end where a day's step ends,
        and has no causes.
        """
        asked = start, place, moved_by
        kept = self._steps.get(asked)
        if kept is not None:
            return kept
        with self._lock:
            if asked not in self._steps:
                self._keep(self._built(start, place, moved_by, newest))
            return self._steps[asked]

    def goes_on(self, place: Place, head: Head, today: date) -> bool:
        """Whether a step leads on from a place."""
        return self._next(place, head, today) is not None

    def place_before(self, day: date) -> Place:
        """Where the timeline stands as a day begins: before the day's first revision."""
        return Place(self._ledger.figures_before(day), day)

    def _next(self, place: Place, head: Head, today: date) -> tuple[Place, MovedBy] | None:
        """The place that comes after one, and what leads there; None where nothing more has happened."""
        coming = None
        if place.revision < head.figures_revision:
            coming = self._ledger.figure_revisions(place.revision, 1)[0]
        until = today if coming is None else coming.on_date
        if until > place.day and place != BEFORE_THE_FIRST:
            day = self._next_day(place, until)
            if day is not None:
                return Place(place.revision, day), MovedBy.DATE
        return None if coming is None else (_after(place, coming), MovedBy.REVISION)

    def _next_day(self, place: Place, until: date) -> date | None:
        """The next day of figures after a place, up to another. Who follows the feed stays where something moved last
        and asks this at every poll from the next midnight on, so it is found once a place."""
        with self._lock:
            if place not in self._next_days:
                kitchen = self._walk_at(place).kitchens.at(place.revision)
                self._next_days[place] = next_day_of_figures(kitchen, place.day, date.max)
            while len(self._next_days) > KEPT_NEXT_DAYS:
                self._next_days.popitem(last=False)
            day = self._next_days[place]
        return day if day is not None and day <= until else None

    def _built(self, start: Place, place: Place, moved_by: MovedBy, newest: bool) -> Step:
        walk = self._walk_at(start)
        before = walk.snapshot or self._snapshot(walk, start, None)
        after = self._snapshots.at(self._position(place)) if newest else self._snapshot(walk, place, before)
        walk.snapshot = after
        self._walks[place] = self._walks.pop(start)
        causes = self._causes(after, place, moved_by)
        return Step(start, place, moved_by, _dishes(before, after, causes), _prices(before, after, causes))

    def _causes(self, after: Snapshot, place: Place, moved_by: MovedBy) -> list[Cause]:
        if moved_by is MovedBy.DATE:
            return started_on(after.recorded, place.day)
        if moved_by is MovedBy.REVISION:
            entries = self._ledger.entries(Mark(place.revision, 0), _MOST_ENTRIES, place.revision)
            return [Cause(entry.kind, entry.code, entry.action, entry.mark) for entry in entries
                    if entry.kind in OF_FIGURES]
        return []

    def _walk_at(self, place: Place) -> _Walk:
        walk = self._walks.get(place)
        if walk is None:
            if len(self._walks) >= KEPT_WALKS:
                newest = max(self._walks)
                del self._walks[next(place for place in self._walks if place != newest)]
            walk = self._walks[place] = _Walk(self._ledger.walk())
        return walk

    def _snapshot(self, walk: _Walk, place: Place, like: Snapshot | None) -> Snapshot:
        position = self._position(place)
        return self._snapshots.kept(position) or Snapshot.of(position, walk.kitchens.at(place.revision), like)

    def _position(self, place: Place) -> Position:
        return Position(*self._ledger.figures_at(place.revision), place.day)

    def _keep(self, step: Step) -> None:
        self._steps[step.start, step.place, step.moved_by] = step
        self._kept_changes += _weight(step)
        while self._kept_changes > MOST_KEPT_CHANGES and len(self._steps) > 1:
            _, gone = self._steps.popitem(last=False)
            self._kept_changes -= _weight(gone)


def _after(place: Place, coming: FigureRevision) -> Place:
    """Days never go back, also where a host whose clock runs ahead has begun the next one already."""
    return Place(coming.number, max(place.day, coming.on_date))


def _dishes(before: Snapshot, after: Snapshot, causes: Sequence[Cause]) -> tuple[DishChange, ...]:
    told = ((dish.code, _told(dish.before), _told(dish.after)) for dish in moved_between(before, after))
    moved = [change for change in told if change[1] != change[2]]
    why = causes_by_dish([code for code, _, _ in moved], causes, before.kitchen, after.kitchen)
    return tuple(DishChange(code, row, row_after, of_dish)
                 for (code, row, row_after), of_dish in zip(moved, why, strict=True))


def _prices(before: Snapshot, after: Snapshot, causes: Sequence[Cause]) -> tuple[PriceChange, ...]:
    """The ingredients that one of the causes is about, if another price decides."""
    about: defaultdict[str, list[Cause]] = defaultdict(list)
    for cause in causes:
        for ingredient in ingredients_of(cause, before.kitchen, after.kitchen):
            about[ingredient].append(cause)
    decided_ones = ((code, decided(before.kitchen, code), decided(after.kitchen, code)) for code in sorted(about))
    return tuple(PriceChange(code, was, now, tuple(about[code])) for code, was, now in decided_ones if was != now)


def _told(row: Document | None) -> Document | None:
    return None if row is None else {name: value for name, value in row.items() if name not in NOT_FIGURES}


def _weight(step: Step) -> int:
    return len(step.changes) + len(step.prices) + 1
