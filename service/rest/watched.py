"""Telling those who watch of every request that was answered: what it was by its route, and what came of it.

Rules that always hold: told once for each answer, as the last thing before it is sent; never a path, a query's value, a
body, a key or a header, only the route's template, the names of declared parameters, the id of a key, and the kind of a
problem; who watches costs nothing where nobody does, and spoils no answer.
"""

import logging
import re
from collections.abc import Callable, Mapping
from time import perf_counter
from typing import Any, Protocol

from flask import Flask, Response, g, has_request_context, request

_LOG = logging.getLogger("seamcost.rest")
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_PARAMETER = re.compile(r"<(?:[^:>]*:)?([^>]+)>")
_TRACE = re.compile(r"[0-9a-f]{2}-((?!0{32})[0-9a-f]{32})-(?!0{16})[0-9a-f]{16}-[0-9a-f]{2}")
"""Source: W3C Trace Context, section 3.2."""
OTHER, NO_ROUTE = "other", "none"
"""A method that nobody defined: a client may send any word, and each would be one more row for who counts."""


class Watcher(Protocol):
    """Who is told."""

    def begun(self, carried: Mapping[str, Any]) -> None:
        """A request came; `carried` are its header fields as WSGI names them."""

    def answered(self, route: str, method: str, status: int, seconds: float, more: Callable[[], Mapping[str, Any]]
                 ) -> None:
        """It was answered. `more` says what else is known, to who asks."""

    def asked_again(self) -> None:
        """The database undid what a request did, and the whole of it is tried once more."""


def tell_watchers(app: Flask, watchers: tuple[Watcher, ...]) -> None:
    """Have every answer told. To be called before everything else that looks at requests and answers."""
    if not watchers:
        return
    routes: dict[str, str] = {}

    def begin() -> None:
        g.begun = perf_counter()
        for watcher in watchers:
            watcher.begun(request.environ)

    def tell(answer: Response) -> Response:
        asked = request._get_current_object()  # type: ignore[attr-defined]  # one look-up, not one per member
        seconds, method = perf_counter() - g.begun, asked.method
        rule = asked.url_rule.rule if asked.url_rule else NO_ROUTE
        route = routes.get(rule)
        if route is None:
            route = routes[rule] = template(rule)
        try:
            for watcher in watchers:
                watcher.answered(route, method if method in METHODS else OTHER, answer.status_code, seconds, _more)
        except Exception:
            _LOG.exception("An answer could not be told of")
        return answer

    def _more() -> Mapping[str, Any]:
        return _known(app)

    app.before_request(begin)
    app.after_request(tell)


def request_at_hand() -> Mapping[str, Any]:
    """What a line of the log says of the request that it belongs to, if any."""
    if not has_request_context():
        return {}
    trace = _TRACE.fullmatch(request.environ.get("HTTP_TRACEPARENT", ""))
    return {"request_id": g.get("request_id", "")} | ({"trace_id": trace[1]} if trace else {})


def template(rule: str) -> str:
    """The route as the API document writes it: `/v1/dishes/{code}`."""
    return _PARAMETER.sub(r"{\1}", rule)


def _known(app: Flask) -> Mapping[str, Any]:
    caller = g.get("caller")
    known: dict[str, Any] = {"request_id": g.get("request_id"), "key_id": getattr(caller, "key_id", None),
                             "problem": g.get("problem")}
    if request.query_string and request.endpoint:
        declared = getattr(app.view_functions[request.endpoint], "parameters", {})
        known["query"] = [name if name in declared else OTHER for name in request.args][:20]
    return {name: value for name, value in known.items() if value is not None}
