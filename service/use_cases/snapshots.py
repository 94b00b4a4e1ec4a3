"""Snapshots: every figure of one (revision, day), computed once a worker and then only read.

A figure is a function of the latest revision that can move it and of the day, so nothing here goes stale: a request
asks the ledger for its head, and is served from the snapshot of that head. One builder of a day at a time; who waited
for one and is overtaken by writes is served from the later snapshot that others built. Revisions that are named are
built beside them, one at a time: to build what has been passed is to go back, and tills are not to wait for it. That of
the newest revision today is never evicted, and some tens of other (revision, day) pairs are kept; of these the last few
alone with the rows and bytes that were made of them, which are much larger than the figures.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping, Set
from dataclasses import dataclass
from datetime import date
from operator import attrgetter
from typing import Any, TypeVar
from weakref import WeakValueDictionary

from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.compiled_menu import CompiledMenu
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.network import Network
from service.domain.published_above import MovedDishes
from service.domain.published_menu import PublishedDishes
from service.domain.recompile import Recompiled, recompiled
from service.domain.same_uses import uses_alike
from service.domain.sweep import SweptFigures
from service.domain.unit_prices import UnitPrices
from service.use_cases.menu_once import MenuOnce
from service.use_cases.ports import Ledger
from service.use_cases.position import Position

KEPT, KEPT_WITH_ANSWERS = 40, 12
PRICES, SWEPT, COLUMNS = "unit prices", "swept", "columns"
OF_USES = ("uses", "allergens")
"""What follows from what uses what, whatever it costs."""
OF_MEASURES = ("measures", "pieces")
"""What follows from records whose nodes may cost anything: ingredients, breakdowns with their tests, recipes."""
MEASURED = ("ingredients", "breakdowns", "yield_tests", "recipes")
LASTING = (COLUMNS, ("dish rows", False), ("dish rows", True), *OF_USES, *OF_MEASURES)
"""What is made of a snapshot that the next one can take over, all or in part."""
NAMED = "named"
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Earlier:
    """The snapshot that another was found from: how its kitchen stood, what had been made of it by then, and what
    changed: the network found anew, and the nodes that stand on what is new in it."""

    kitchen: KitchenOnDay
    kept: Mapping[Hashable, Any]
    found: Recompiled
    standing: Set[int]
    menu: CompiledMenu | None
    swept: SweptFigures | None


class Snapshot:
    """The kitchen on a day, its network and its costs. Immutable; what is derived from it is kept with it."""

    how = "compiled"
    """How it was found: `compiled` from nothing, `recompiled` with nothing to take over, `advanced` from another."""

    def __init__(self, position: Position, recorded: Kitchen, kitchen: KitchenOnDay, network: Network,
                 menu: MenuOnce, costing: Costing | None = None) -> None:
        self.position = position
        self.recorded = recorded
        self.kitchen = kitchen
        self.network = network
        self.costing: Costing = costing or cascade(network)
        self.menu = menu
        self.earlier: Earlier | None = None
        self._kept: dict[Hashable, Any] = {}
        self._making: WeakValueDictionary[Hashable, threading.RLock] = WeakValueDictionary()
        self._lock = threading.Lock()
        """Held to look up whose turn it is to make something."""

    @classmethod
    def of(cls, position: Position, recorded: Kitchen, like: "Snapshot | None") -> "Snapshot":
        """The snapshot of a kitchen; from one before, what its changes do not move is taken over."""
        if like is None:
            kitchen = recorded.on(position.day)
            network = compile_network(kitchen)
            return cls(position, recorded, kitchen, network, MenuOnce.of(network, kitchen))
        kitchen = recorded.on(position.day, (like.recorded, like.kitchen))
        found = recompiled(like.network, like.kitchen, kitchen)
        if found.changed is None:
            snapshot = cls(position, recorded, kitchen, found.network, MenuOnce.of(found.network, kitchen))
            snapshot.how = "recompiled"
            return snapshot
        standing = like.network.standing_on(found.changed)  # of the users that it had: others are among the changed
        snapshot = cls(position, recorded, kitchen, found.network, like.menu.under(found, kitchen),
                       like.costing.without(found.network, standing))
        snapshot._take_over(like, found, standing)
        snapshot.how = "advanced"
        return snapshot

    def _take_over(self, like: "Snapshot", found: Recompiled, standing: Set[int]) -> None:
        earlier: dict[Hashable, Any] = {
            name: made for name in LASTING if (made := like.kept_already(name)) is not None}
        menu, swept = (like.menu.get(), like.swept()) if COLUMNS in earlier else (None, None)
        self.earlier = Earlier(like.kitchen, earlier, found, standing, menu, swept)
        if uses_alike(like.kitchen, self.kitchen):
            self._kept.update((name, earlier[name]) for name in OF_USES if name in earlier)
        if all(getattr(like.kitchen, kind) is getattr(self.kitchen, kind) for kind in MEASURED) and (
                like.kitchen.day == self.kitchen.day):
            self._kept.update((name, earlier[name]) for name in OF_MEASURES if name in earlier)

    def stands_on(self, other: "Snapshot") -> bool:
        """Whether this one was found from that one."""
        return self.earlier is not None and self.earlier.kitchen is other.kitchen

    def prices(self) -> UnitPrices:
        """The unit price of every ingredient."""
        return self.kept(PRICES, lambda: self.menu.get().compiled.prices_of(self.network))

    def swept(self) -> SweptFigures:
        """What everything costs, as floats with their bounds."""
        return self.kept(SWEPT, lambda: self.menu.get().swept_at(self.prices()))

    def moved(self) -> MovedDishes | None:
        """What the dishes publish that can have moved since the snapshot before; None where all can have."""
        return self.kept("moved dishes", self._moved)

    def _moved(self) -> MovedDishes | None:
        earlier = self.earlier
        if earlier is None or earlier.menu is None or earlier.swept is None:
            return None
        return earlier.menu.moved(earlier.swept, earlier.kept[COLUMNS], (earlier.kitchen, self.kitchen), earlier.found,
                                  earlier.standing)

    def columns(self) -> PublishedDishes:
        """What every dish publishes, in columns."""
        return self.kept(COLUMNS, self._columns)

    def _columns(self) -> PublishedDishes:
        moved, earlier = self.moved(), self.earlier
        if moved is None or earlier is None:
            return self.menu.get().published_of(self.swept())
        return moved.among(earlier.kept[COLUMNS])

    def kept(self, name: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made once: rows, bodies, their compressed bytes. Who asks meanwhile waits for this very
        name, and for no other: one dish is not to wait for all. What is made may be made of other names, never in a
        circle, so no two wait for each other. Of what cannot be made (a dish that is not there) nothing stays."""
        kept = self._kept
        found: T | None = kept.get(name)
        if found is not None:
            return found
        with self._lock:
            turn = self._making.setdefault(name, threading.RLock())  # there as long as somebody makes it or waits
        with turn:
            if name not in kept:
                kept[name] = make()
            made: T = kept[name]
            return made

    def kept_already(self, name: Hashable) -> Any:
        """What was made under this name, or None."""
        return self._kept.get(name)

    def forget(self) -> None:
        """Let go of what was derived. It is made again when somebody asks for it."""
        self._kept = {}
        self.earlier = None


class Snapshots:
    """The snapshots of one worker. `building` calls what it is given, which builds one: for who watches that."""

    def __init__(self, ledger: Ledger, building: Callable[[Callable[[], Snapshot]], Snapshot] | None = None) -> None:
        self._ledger, self._building = ledger, building or (lambda build: build())
        self._kept: OrderedDict[Position, Snapshot] = OrderedDict()
        self._turns: WeakValueDictionary[date | str, threading.Lock] = WeakValueDictionary()
        self._lock = threading.Lock()
        """Held to look through all that are kept, and to change which are."""

    def at(self, position: Position) -> Snapshot:
        """The snapshot of a position, or of a later one where that is as good; built if no request has asked for it
        yet."""
        snapshot = self._kept.get(position)
        if snapshot is not None:
            return snapshot
        turn = self._turn_of(position.day if position.or_later else NAMED)
        with turn:
            if position.or_later and position not in self._kept:
                position = self._now_in_place_of(position)
            found = self._kept.get(position)
            if found is not None:
                return found
            built = self._building(lambda: self._build(position))
            with self._lock:
                self._kept[position] = built
        self._let_go()  # others need not wait for it
        return built

    def kept(self, position: Position) -> Snapshot | None:
        """The snapshot of a position if there is one already."""
        return self._kept.get(position)

    def _turn_of(self, whose: date | str) -> threading.Lock:
        """Builders take turns: those of what is newest of a day, and those of a revision that was named. A turn is
        there for as long as somebody builds or waits: taken away sooner, the next would build beside who waited; kept,
        each day that anybody asks for would leave one behind."""
        with self._lock:
            return self._turns.setdefault(whose, threading.Lock())

    def _now_in_place_of(self, position: Position) -> Position:
        """The latest position that is kept of the day, else that of the head. Only such as this very ledger has: one
        that was restored has gone back."""
        kept = max((kept for kept in self._positions() if kept.day == position.day
                    and kept.revision > position.revision), key=attrgetter("revision"), default=None)
        if kept is not None and self._ledger.figures_at(kept.revision) == (kept.revision, kept.hash):
            return kept
        head = self._ledger.head()
        return position if head.figures_revision <= position.revision else Position(
            head.figures_revision, head.figures_hash, position.day)

    def _build(self, position: Position) -> Snapshot:
        return Snapshot.of(position, self._ledger.kitchen(position.revision), self._nearest(position))

    def _nearest(self, position: Position) -> Snapshot | None:
        """The one from which least differs: of the nearest day, then the last before it, then the first after it. Not
        the one that was built last: for tills that may be an older one, which somebody named amid their polls."""
        nearest = max(self._positions(), default=None, key=lambda kept: (
            -abs((kept.day - position.day).days), kept.revision <= position.revision,
            -abs(kept.revision - position.revision)))
        return self._kept.get(nearest) if nearest is not None else None

    def _positions(self) -> list[Position]:
        with self._lock:
            return list(self._kept)

    def _let_go(self) -> None:
        """Let go of what is kept beyond what may be, the longest kept first."""
        if len(self._kept) <= KEPT_WITH_ANSWERS:
            return
        today = self._ledger.today()
        with self._lock:
            polled = max(self._kept, key=lambda kept: (kept.revision, kept.day == today))
            older = [kept for kept in self._kept if kept != polled]
            for position in older[:-KEPT_WITH_ANSWERS]:
                self._kept[position].forget()
            for position in older[:max(0, len(self._kept) - KEPT)]:
                del self._kept[position]
