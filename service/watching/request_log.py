"""The log of requests: a line for each that was answered, with its id, its route and what came of it.

A poll that changed nothing (304) and a probe of health are told at level debug: tills and orchestrators ask every few
seconds, what they ask is counted (request_figures.py), and a line each would cost more than the answer.
"""

import logging
from collections.abc import Callable, Mapping
from typing import Any

_LOG = logging.getLogger("seamcost.request")
_UNCHANGED = 304
_PROBES = "/health/"


class RequestLog:
    """Writes a line for each request."""

    def begun(self, carried: Mapping[str, Any]) -> None:
        """Nothing is told before there is an answer."""

    def answered(self, route: str, method: str, status: int, seconds: float, more: Callable[[], Mapping[str, Any]]
                 ) -> None:
        quiet = status == _UNCHANGED or (status < 400 and route.startswith(_PROBES))
        level = logging.DEBUG if quiet else logging.INFO
        if not _LOG.isEnabledFor(level):
            return
        _LOG.log(level, "", extra={"fields": {
            "event": "request", "method": method, "route": route, "status": status,
            "milliseconds": round(seconds * 1e3, 2), **more()}})

    def asked_again(self) -> None:
        """Nothing: who asks again says so."""
