"""Tills that know the menu from the feed of dish costs alone, and hold every change to what they have."""

import threading
from dataclasses import dataclass, field
from typing import Any

import requests

from service.use_cases.figure_timeline import NOT_FIGURES
from tests.stories.running_service import Client

FEED, LIST = "/v1/dish-costs/changes", "/v1/dish-costs?limit=1000"


def figures_of(row: dict[str, Any]) -> dict[str, Any]:
    """A row of the list as the feed has it."""
    return {name: value for name, value in row.items() if name not in NOT_FIGURES}


def full_read(client: Client) -> dict[str, Any]:
    """The menu as a full read gives it."""
    return {row["dish"]: figures_of(row) for row in client.everything(LIST)}


@dataclass
class Follower:
    """A till that follows the feed from its beginning. `places` are those of the changes in the order they came."""

    client: Client
    wait: int = 0
    cursor: str | None = None
    menu: dict[str, Any] = field(default_factory=dict)
    places: list[tuple[int, str]] = field(default_factory=list)
    stop: threading.Event = field(default_factory=threading.Event)

    def drain(self) -> list[Any]:
        """Take every page until there is no more; all changes."""
        taken: list[Any] = []
        while True:
            page = self._page(wait=0)
            taken += page["data"]
            if not page["more"]:
                return taken

    def keep_following(self) -> None:
        """Take page after page until told to stop."""
        while not self.stop.is_set():
            self._page(self.wait)

    def _page(self, wait: int) -> Any:
        page = self._asked(f"{FEED}?limit=200&wait={wait}" + (f"&after={self.cursor}" if self.cursor else ""))
        for change in page["data"]:
            self._take(change)
        self.cursor = page["next_cursor"]
        return page

    def _take(self, change: dict[str, Any]) -> None:
        place = (change["revision"], change["as_of"])
        assert not self.places or self.places[-1] <= place
        assert self.menu.get(change["dish"]) == change["before"]
        assert change["before"] != change["after"]
        self.places.append(place)
        if change["after"] is None:
            del self.menu[change["dish"]]
        else:
            self.menu[change["dish"]] = change["after"]

    def _asked(self, path: str) -> Any:
        """Ask, and once more where the worker behind the connection was killed: a read may be repeated."""
        try:
            return self.client.read(path)
        except requests.ConnectionError:
            return self.client.read(path)
