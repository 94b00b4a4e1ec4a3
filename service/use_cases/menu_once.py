"""The compiled menu of a kitchen, compiled by the first request that needs it and shared by all with the same lines."""

import threading

from service.domain.compiled_menu import CompiledMenu
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Network
from service.domain.recompile import Recompiled


class MenuOnce:
    """A compiled menu that is compiled when it is first needed, and shared by all that have the same lines."""

    def __init__(self, network: Network, kitchen: KitchenOnDay) -> None:
        self._network, self._kitchen = network, kitchen
        self._menu: CompiledMenu | None = None
        self._lock = threading.Lock()

    def under(self, found: Recompiled, kitchen: KitchenOnDay) -> "MenuOnce":
        """The menu of a kitchen whose network was compiled anew in places: the very same where only prices moved."""
        kinds = {found.network.nodes[index].kind for index in found.changed or ()}
        if (found.changed is not None and kinds <= {"ingredient"}
                and kitchen.dishes == self._kitchen.dishes and kitchen.settings == self._kitchen.settings):
            return self
        return MenuOnce(found.network, kitchen)

    def get(self) -> CompiledMenu:
        """The compiled menu."""
        with self._lock:
            if self._menu is None:
                self._menu = CompiledMenu.of(self._network, self._kitchen)
            return self._menu
