"""Finding the view of a path: as the library does, and remembered, since tills ask the same paths all day.

What a method and a path lead to is a function of their text, as the views are all there when the first request comes.
Only what was found is remembered: a path that leads nowhere, or on to another, is looked up each time.
"""

from contextlib import suppress
from typing import Any

from werkzeug.exceptions import HTTPException
from werkzeug.routing import Map, MapAdapter, Rule

MOST_REMEMBERED, LONGEST_REMEMBERED = 4096, 128
Found = tuple[Rule, dict[str, Any]]


class KnownPaths(Map):
    """The library's map of paths, with what it found for those that came before."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._known: dict[tuple[str, str], Found] = {}

    def bind_to_environ(self, environ: Any, server_name: str | None = None, subdomain: str | None = None
                        ) -> MapAdapter:
        asked = environ["REQUEST_METHOD"], environ.get("PATH_INFO", "/")
        found = self._known.get(asked)
        if found is not None:
            return _Known(self, asked, found)
        adapter = super().bind_to_environ(environ, server_name, subdomain)
        with suppress(HTTPException):
            self._remember(asked, adapter.match(return_rule=True))
        return adapter

    def _remember(self, asked: tuple[str, str], found: Found) -> None:
        if len(asked[1]) <= LONGEST_REMEMBERED and "token" not in found[1]:  # a feed link's is nowhere kept
            if len(self._known) >= MOST_REMEMBERED:
                self._known.clear()
            self._known[asked] = found


class _Known(MapAdapter):
    """The adapter of a request whose path is known: it leads to a view, so that no host is needed to send it on."""

    def __init__(self, paths: KnownPaths, asked: tuple[str, str], found: Found) -> None:
        super().__init__(paths, "", "/", "", "http", asked[1], asked[0])
        self._found = found

    def match(self, *args: Any, **options: Any) -> Any:
        """What was found; of another path or method, such as what OPTIONS asks for Allow, what the library finds."""
        if args or "method" in options:
            return super().match(*args, **options)
        rule, values = self._found
        return rule, dict(values)
