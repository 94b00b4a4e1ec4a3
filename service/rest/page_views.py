"""A page over HTTP: finished bytes that hold nobody's figures, open to all; what it shows it asks of the API.

The policy lets it load its own files alone, ask its own origin alone, and turn no text into markup: a browser refuses
even a slip of ours.

Source:  CSP level 3; Trusted Types (`require-trusted-types-for`); the Fetch standard: with `no-referrer` a form would
         send `Origin: null`, so a page refers within its own origin.
"""

from collections.abc import Mapping
from typing import Protocol

import flask
from flask import Response, request

from service.rest.api_keys import open_to_all
from service.rest.conditional import prebuilt_answer
from service.rest.finished_files import HTML, finished
from service.rest.http_faults import NoSuchPath

POLICY = "; ".join((
    "default-src 'none'", "script-src 'self'", "style-src 'self'", "connect-src 'self'", "img-src 'self' data:",
    "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'", "require-trusted-types-for 'script'",
    "trusted-types 'none'"))
_CURRENT = (("Cache-Control", "public, no-cache"),)
"""Asked for again each time (and answered by 304): a page and its scripts belong together."""

PAGE_FIELDS = (("Content-Security-Policy", POLICY), ("Cross-Origin-Opener-Policy", "same-origin"),
               ("Referrer-Policy", "same-origin"), ("Permissions-Policy", "camera=(), geolocation=(), microphone=()"))
"""What every page is served with."""

_PAGE = (*_CURRENT, *PAGE_FIELDS)
_MEDIA_TYPES = {"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8"}


class Page(Protocol):
    """A page as finished bytes: its HTML, and the files that it loads by their names."""

    @property
    def html(self) -> bytes: ...
    @property
    def files(self) -> Mapping[str, bytes]: ...


def page_views(name: str, page: Page) -> flask.Blueprint:
    """`/<name>`, and the page's files below it."""
    blueprint = flask.Blueprint(f"{name}-page", "service.rest", url_prefix=f"/{name}")
    html = finished(page.html, HTML, _PAGE)
    files = {file: finished(content, _MEDIA_TYPES[file.rpartition(".")[2]], _CURRENT)
             for file, content in page.files.items()}

    @blueprint.get("")
    @open_to_all
    def read_page() -> Response:
        return prebuilt_answer(html, request)

    @blueprint.get("/<file>")
    @open_to_all
    def read_file(file: str) -> Response:
        if file not in files:
            raise NoSuchPath("The page has no such file.")
        return prebuilt_answer(files[file], request)

    return blueprint
