"""The compiled menu of a kitchen, compiled by the first request that needs it and shared by all with the same lines."""

import threading

from service.domain.compiled_menu import CompiledMenu
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Network
from service.domain.recompile import Recompiled


class MenuOnce:
    """A compiled menu that is compiled when it is first needed, and shared by all that have the same lines."""

    def __init__(self, network: Network, kitchen: KitchenOnDay, menu: CompiledMenu | None = None) -> None:
        self._network, self._kitchen = network, kitchen
        self._menu = menu
        self._lock = threading.Lock()

    def under(self, found: Recompiled, kitchen: KitchenOnDay) -> "MenuOnce":
        """The menu of a kitchen whose network was compiled anew in places. Where this one is compiled already, so is
        that one at once, in the same places; the very same where only prices moved."""
        if self._menu is not None:
            menu = self._menu.under(found, self._kitchen, kitchen)
            return self if menu is self._menu else MenuOnce(found.network, kitchen, menu)
        return MenuOnce(found.network, kitchen)

    def get(self) -> CompiledMenu:
        """The compiled menu."""
        with self._lock:
            if self._menu is None:
                self._menu = CompiledMenu.of(self._network, self._kitchen)
            return self._menu
