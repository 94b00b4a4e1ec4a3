"""A snapshot: every figure of one (revision, day), and whatever is made of it.

It is found from one before where there is one: what a change does not move is taken over.
"""

from collections.abc import Callable, Hashable, Mapping, Set
from dataclasses import dataclass
from typing import Any, TypeVar

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
from service.use_cases.position import Position
from service.use_cases.turns import Turns

PRICES, SWEPT, COLUMNS = "unit prices", "swept", "columns"
OF_USES = ("uses", "allergens")
"""What follows from what uses what, whatever it costs."""
OF_MEASURES = ("measures", "pieces")
"""What follows from records whose nodes may cost anything: ingredients, breakdowns with their tests, recipes."""
MEASURED = ("ingredients", "breakdowns", "yield_tests", "recipes")
LASTING = (COLUMNS, ("dish rows", False), ("dish rows", True), *OF_USES, *OF_MEASURES)
"""What is made of a snapshot that the next one can take over, all or in part."""
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
        self._making = Turns()

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
        with self._making.of(name):
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
