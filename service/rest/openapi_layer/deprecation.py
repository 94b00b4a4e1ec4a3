"""Announcing the end of an operation: in the document, and in the header fields of every answer that its view gives.

Rules that always hold: it answers as before until its end, which is announced at least twelve months ahead; the page
about versions says what that means.

Example: between the route and the rest.

    @blueprint.get("/<code:code>/old")
    @deprecated(since=date(2027, 3, 1), until=date(2028, 3, 1), instead="/v1/dish-costs")
    @needs("read")

Source: RFC 9745 (Deprecation, a structured date; the relation `deprecation`); RFC 8594 (Sunset, an HTTP date; the
relation `sunset`), whose day is not before the other's; RFC 5829 (the relation `successor-version`).
"""

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time
from functools import wraps
from typing import Any, TypeVar

from flask import Response, after_this_request
from werkzeug.http import http_date

from service.rest.openapi_layer.components import header_ref

View = TypeVar("View", bound=Callable[..., Any])
PAGE = "/docs/versioning"
_ON, _UNTIL, _INSTEAD = "x-deprecated-on", "x-sunset", "x-successor"


def deprecated(*, since: date, until: date, instead: str = "") -> Callable[[View], View]:
    """Announce that an operation ends on `until`; `instead` is the path that takes its place.

    Raises:  ValueError when that is less than twelve months after `since`.
    """
    if until < twelve_months_after(since):
        raise ValueError(f"What is deprecated on {since} cannot end on {until}: it is kept for twelve months or more")
    fields = _fields(since, until, instead)

    def announce(answer: Response) -> Response:
        for name, value in fields:
            answer.headers.add(name, value)
        return answer

    def decorator(view: View) -> View:
        @wraps(view)
        def wrapper(*args: Any, **kwargs: Any) -> Any:
            after_this_request(announce)
            return view(*args, **kwargs)

        documented = dict(getattr(view, "_apidoc", {}))
        told = {"deprecated": True, _ON: since.isoformat(), _UNTIL: until.isoformat()}
        documented["manual_doc"] = {**documented.get("manual_doc", {}), **told, **(
            {_INSTEAD: instead} if instead else {})}
        wrapper._apidoc = documented  # type: ignore[attr-defined]
        return wrapper  # type: ignore[return-value]

    return decorator


def twelve_months_after(day: date) -> date:
    """The same day of the next year; the day after 29 February's is 1 March."""
    if (day.month, day.day) == (2, 29):
        return date(day.year + 1, 3, 1)
    return day.replace(year=day.year + 1)


def tell_of_the_end(operation: dict[str, Any]) -> None:
    """Say in the document, of an operation that is announced to end, when, what instead, and by which header fields."""
    if _UNTIL not in operation:
        return
    told = f"Deprecated since {operation[_ON]}: it answers as before until {operation[_UNTIL]}."
    if _INSTEAD in operation:
        told += f" Use `{operation[_INSTEAD]}` instead."
    operation["description"] = "\n\n".join(filter(None, (told, operation.get("description"))))
    for response in operation["responses"].values():
        if "$ref" not in response:
            headers: Mapping[str, Any] = response.setdefault("headers", {})
            response["headers"] = {name: header_ref(name) for name in ("Deprecation", "Sunset", "Link")} | headers


def _fields(since: date, until: date, instead: str) -> tuple[tuple[str, str], ...]:
    begins, ends = (datetime.combine(day, time(), UTC) for day in (since, until))
    links = [f'<{PAGE}>; rel="deprecation"; type="text/html"', f'<{PAGE}>; rel="sunset"; type="text/html"']
    if instead:
        links.append(f'<{instead}>; rel="successor-version"')
    return (("Deprecation", f"@{int(begins.timestamp())}"), ("Sunset", http_date(ends)), ("Link", ", ".join(links)))
