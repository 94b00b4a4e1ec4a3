"""What every request and answer carries: a request id in and out, and the header fields that keep it in its place.

An answer says itself how it may be stored; one that says nothing is not stored at all.

Source: RFC 9111 section 5.2.2; the Fetch standard for Cross-Origin-Resource-Policy; CSP level 3.
"""

import re
from collections.abc import Iterable
from random import getrandbits
from typing import Any

from flask import Flask, Response, g, request

REQUEST_ID = "X-Request-ID"
SECURITY_HEADERS: tuple[tuple[str, str], ...] = (
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'; base-uri 'none'"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("X-Frame-Options", "DENY"),
)
_PLAIN_ID = re.compile(r"[A-Za-z0-9._:/+=@-]{1,128}", re.ASCII)


class Prepared(Response):
    """An answer whose header fields were written once, for every request: only what `tell` adds is its own.

    Most of the time of an answer from prebuilt bytes went into checking the same fields again.
    """

    default_mimetype = None

    def __init__(self, body: bytes | None, status: int, fields: Iterable[tuple[str, str]]) -> None:
        super().__init__(None, status)
        self.fields = list(fields)
        if body is not None:
            self.response = [body]  # not by `set_data`, which would give it a second Content-Length

    def get_wsgi_response(self, environ: Any) -> Any:
        """As the library's, with the fields as they were written."""
        return self.get_app_iter(environ), self.status, [*self.fields, *self.headers]


def tell(answer: Response, name: str, value: str) -> None:
    """Give an answer a field whose text is our own: on a prepared one it is not checked once more."""
    if isinstance(answer, Prepared):
        answer.fields.append((name, value))
    else:
        answer.headers[name] = value


def accompany(app: Flask) -> None:
    """Give every request its id, and every answer its header fields. To be called before the gate is put up."""
    app.before_request(_take_request_id)
    app.after_request(_complete)


def _take_request_id() -> None:
    given = request.environ.get("HTTP_X_REQUEST_ID")
    g.request_id = given if given and _PLAIN_ID.fullmatch(given) else _new_id()


def _new_id() -> str:
    return f"{getrandbits(128):032x}"


def _complete(answer: Response) -> Response:
    tell(answer, REQUEST_ID, g.get("request_id") or _new_id())
    if isinstance(answer, Prepared):
        return answer
    headers = answer.headers
    for name, value in SECURITY_HEADERS:
        if name not in headers:
            headers.add(name, value)
    if "Cache-Control" not in headers:
        headers.add("Cache-Control", "no-store")
    return answer
