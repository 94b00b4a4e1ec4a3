"""The compiled menu of a kitchen, compiled by the first request that needs it and shared by all with the same lines.

Nothing here holds itself, even by way of others: what a snapshot leaves behind is freed when the last who holds it lets
go. The garbage collector looks through what has lived long so seldom that hours of it would be there.
"""

import threading
from collections.abc import Callable

from service.domain.compiled_menu import CompiledMenu
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Network
from service.domain.recompile import Recompiled
from service.domain.record_changes import differing


class MenuOnce:
    """A compiled menu that is compiled when it is first needed, and shared by all that have the same lines."""

    def __init__(self, kitchen: KitchenOnDay, made: Callable[[], CompiledMenu], from_nothing: bool = True) -> None:
        self._kitchen, self._from_nothing = kitchen, from_nothing
        self._menu: CompiledMenu | Callable[[], CompiledMenu] = made
        self._lock = threading.Lock()

    @classmethod
    def of(cls, network: Network, kitchen: KitchenOnDay) -> "MenuOnce":
        """The menu of a kitchen, compiled from nothing."""
        return cls(kitchen, lambda: CompiledMenu.of(network, kitchen))

    def under(self, found: Recompiled, kitchen: KitchenOnDay) -> "MenuOnce":
        """The menu of a kitchen whose network was compiled anew in places: where this one is compiled, that one will be
        in the same places alone; the very same where only prices moved."""
        was = self._kitchen
        if _only_prices(found, was, kitchen):
            return self
        if self._from_nothing and not self.made():
            return MenuOnce.of(found.network, kitchen)
        menu = self.get()
        return MenuOnce(kitchen, lambda: menu.under(found, was, kitchen), from_nothing=False)

    def made(self) -> bool:
        """Whether somebody has needed it."""
        return isinstance(self._menu, CompiledMenu)

    def get(self) -> CompiledMenu:
        """The compiled menu."""
        with self._lock:
            if not isinstance(self._menu, CompiledMenu):
                self._menu = self._menu()
            return self._menu


def _only_prices(found: Recompiled, before: KitchenOnDay, after: KitchenOnDay) -> bool:
    return (found.changed is not None and before.settings == after.settings
            and differing(before.dishes, after.dishes) == set()
            and all(found.network.nodes[index].kind == "ingredient" for index in found.changed))
