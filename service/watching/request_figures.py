"""Counting requests: how many, how long, which problems."""

from collections.abc import Callable, Mapping
from typing import Any

from service.watching.figures import Figures


class RequestFigures:
    """Counts every answer. What a (route, method, status) counts on is looked up once."""

    def __init__(self, figures: Figures) -> None:
        self._figures = figures
        self._kept: dict[tuple[str, str, int], tuple[Callable[[], None], Callable[[float], None]]] = {}

    def begun(self, carried: Mapping[str, Any]) -> None:
        """Nothing is counted before there is an answer."""

    def answered(self, route: str, method: str, status: int, seconds: float, more: Callable[[], Mapping[str, Any]]
                 ) -> None:
        counts = self._kept.get((route, method, status))
        if counts is None:
            counts = self._kept[route, method, status] = self._counting(route, method, status)
        counts[0]()
        counts[1](seconds)
        if status >= 400:
            self._figures.problems.labels(more().get("problem", "none")).inc()

    def asked_again(self) -> None:
        self._figures.retries.inc()

    def _counting(self, route: str, method: str, status: int) -> tuple[Callable[[], None], Callable[[float], None]]:
        return (self._figures.requests.labels(route, method, str(status)).inc,
                self._figures.request_seconds.labels(route, method).observe)
