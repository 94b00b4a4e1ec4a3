"""The compiled menu of a kitchen, compiled by the first request that needs it and shared by all with the same lines."""

import threading

from service.domain.compiled_menu import CompiledMenu
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Network


class MenuOnce:
    """A compiled menu that is compiled when it is first needed, and shared by all that have the same lines."""

    def __init__(self, network: Network, kitchen: KitchenOnDay) -> None:
        self._network, self._kitchen = network, kitchen
        self._menu: CompiledMenu | None = None
        self._lock = threading.Lock()

    def get(self) -> CompiledMenu:
        """The compiled menu."""
        with self._lock:
            if self._menu is None:
                self._menu = CompiledMenu.of(self._network, self._kitchen)
            return self._menu
