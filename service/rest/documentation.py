"""The API document and its pages over HTTP: finished bytes, tagged by their content, open to all, without scripts.

They are made when somebody asks for them first: a worker starts in half the time without.
"""

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, NamedTuple

import flask
from flask import Response, request

from service.rest.api_keys import open_to_all
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.finished_files import HTML, finished
from service.rest.http_faults import NoSuchPath
from service.rest.openapi_layer.document import json_bytes

PAGE_POLICY = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
_PUBLIC = (("Cache-Control", "public, max-age=300"),)


def documentation(document: Callable[[], Mapping[str, Any]], make_pages: Callable[[], Any]) -> flask.Blueprint:
    """`/openapi.json`, `/docs`, `/docs/versioning`, `/docs/problems/<slug>` and the stylesheet."""
    blueprint = flask.Blueprint("documentation", "service.rest")
    api_document = cache(lambda: finished(json_bytes(document()), "application/json", _PUBLIC))
    pages = cache(lambda: _finished_pages(make_pages()))

    @blueprint.get("/openapi.json")
    @open_to_all
    def openapi_document() -> Response:
        return prebuilt_answer(api_document(), request)

    @blueprint.get("/docs")
    @open_to_all
    def docs() -> Response:
        return prebuilt_answer(pages().index, request)

    @blueprint.get("/docs/versioning")
    @open_to_all
    def versioning() -> Response:
        return prebuilt_answer(pages().versioning, request)

    @blueprint.get("/docs/style.css")
    @open_to_all
    def docs_style() -> Response:
        return prebuilt_answer(pages().stylesheet, request)

    @blueprint.get("/docs/problems/<slug>")
    @open_to_all
    def problem_page(slug: str) -> Response:
        if slug not in pages().problems:
            raise NoSuchPath("There is no such problem type; /docs lists them all.")
        return prebuilt_answer(pages().problems[slug], request)

    return blueprint


class _Pages(NamedTuple):
    """The pages as they go out."""

    index: Prebuilt
    versioning: Prebuilt
    stylesheet: Prebuilt
    problems: Mapping[str, Prebuilt]


def _finished_pages(pages: Any) -> _Pages:
    return _Pages(_page(pages.index), _page(pages.versioning),
                  finished(pages.stylesheet, "text/css; charset=utf-8", _PUBLIC),
                  {slug: _page(page) for slug, page in pages.problems.items()})


def _page(html: bytes) -> Prebuilt:
    return finished(html, HTML, (*_PUBLIC, ("Content-Security-Policy", PAGE_POLICY),
                                 ("Cross-Origin-Opener-Policy", "same-origin")))
