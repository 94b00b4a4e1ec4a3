"""Places for what takes long: only so many long answers are worked out at once, so that tills never wait for them.

The threads of a worker share its processor: sixteen what-ifs at once would leave a poll a seventeenth of it, and no
thread. So a view that computes over the whole menu is marked `@takes_long`; an eighth of the threads work such views
out, as many requests wait for a place, and who comes beyond that is asked to come again. A position that is not the
newest (`as_of`, `known_at`) is built by one request at a time, while others wait; the newest never stands in that line.

Source: OWASP API Security Top 10 2023, API4; CWE-770.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any, TypeVar

from flask import Flask

from service.domain.errors import ReadersBusy

View = TypeVar("View", bound=Callable[..., Any])
PATIENCE_SECONDS = 5.0


def takes_long(view: View) -> View:
    """Mark a view: it is called only where there is a place."""
    view.takes_long = True  # type: ignore[attr-defined]
    return view


class Places:
    """So many at once, and so many who wait for a place, for at most so long."""

    def __init__(self, at_once: int, waiting: int, patience_seconds: float = PATIENCE_SECONDS) -> None:
        self._door = threading.BoundedSemaphore(at_once + waiting)
        self._places = threading.BoundedSemaphore(at_once)
        self._patience = patience_seconds

    @contextmanager
    def one(self) -> Iterator[None]:
        """A place, while the block lasts.

        Raises:  ReadersBusy.
        """
        if not self._door.acquire(blocking=False):
            raise _busy()
        try:
            if not self._places.acquire(timeout=self._patience):
                raise _busy()
            try:
                yield
            finally:
                self._places.release()
        finally:
            self._door.release()


def share_places(app: Flask, places: Places) -> None:
    """Have all views that take long share these places. To be called when the app has all its views."""
    for endpoint, view in list(app.view_functions.items()):
        if getattr(view, "takes_long", False):
            app.view_functions[endpoint] = _in_its_place(view, places)


def _in_its_place(view: Callable[..., Any], places: Places) -> Callable[..., Any]:
    @wraps(view)
    def waits(*args: Any, **kwargs: Any) -> Any:
        with places.one():
            return view(*args, **kwargs)

    return waits


def _busy() -> ReadersBusy:
    return ReadersBusy("Other answers that take long are being worked out. Ask for yours again in some seconds.")
