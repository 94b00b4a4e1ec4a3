"""What every request and answer carries: a request id in and out, and the header fields that keep it in its place.

An answer says itself how it may be stored; one that says nothing is not stored at all.

Source: RFC 9111 section 5.2.2; the Fetch standard for Cross-Origin-Resource-Policy; CSP level 3.
"""

import re
from uuid import uuid4

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


def accompany(app: Flask) -> None:
    """Give every request its id, and every answer its header fields. To be called before the gate is put up."""
    app.before_request(_take_request_id)
    app.after_request(_complete)


def _take_request_id() -> None:
    given = request.environ.get("HTTP_X_REQUEST_ID", "")
    g.request_id = given if given and _PLAIN_ID.fullmatch(given) else uuid4().hex


def _complete(answer: Response) -> Response:
    headers = answer.headers
    for name, value in SECURITY_HEADERS:
        if name not in headers:
            headers.add(name, value)
    headers.set(REQUEST_ID, g.get("request_id") or uuid4().hex)
    if "Cache-Control" not in headers:
        headers.add("Cache-Control", "no-store")
    return answer
