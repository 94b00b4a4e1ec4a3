"""Counting requests: how many, how long, which problems."""

from collections.abc import Callable, Mapping
from typing import Any

from service.watching.figures import Figures


class RequestFigures:
    """Counts every answer."""

    def __init__(self, figures: Figures) -> None:
        self._figures, self._count = figures, figures.answers.add

    def begun(self, carried: Mapping[str, Any]) -> None:
        """Nothing is counted before there is an answer."""

    def answered(self, route: str, method: str, status: int, seconds: float, more: Callable[[], Mapping[str, Any]]
                 ) -> None:
        self._count(route, method, status, seconds)
        if status >= 400:
            self._figures.problems.labels(more().get("problem", "none")).inc()

    def asked_again(self) -> None:
        self._figures.retries.inc()
