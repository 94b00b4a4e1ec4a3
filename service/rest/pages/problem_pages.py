"""Problems of a page as pages: a form to sign in where no session is, the scope that is missing, and the rest in words.

A path that is served to nobody is answered with a page to whoever asks for HTML, outside the API.

Source:  RFC 9110 sections 15.5.2 to 15.5.5.
"""

from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import parse_qsl

from flask import Flask, Response, g, request

from service.rest.finished_files import HTML
from service.rest.page_views import PAGE_FIELDS
from service.rest.pages.frame import Render

AsPage = Callable[[Mapping[str, Any]], Response | None]
"""From a problem document to the page that tells it; None where the request was none for a page."""

FORM = "application/x-www-form-urlencoded"
_FIELDS = (*PAGE_FIELDS, ("Cache-Control", "private, no-cache"), ("Vary", "Cookie, Authorization"))


def problem_pages(app: Flask, render: Render) -> AsPage:
    """Tells problems of this app's pages."""

    def as_page(problem: Mapping[str, Any]) -> Response | None:
        signing_in = request.endpoint == "session.sign_in" and request.mimetype == FORM
        if not (signing_in or _is_for_a_page(app)):
            return None
        signs_in = problem["status"] in (401, 403) and "header" not in problem
        name = "sign_in" if signing_in or signs_in else "problem_page"
        told = {"problem": problem, "next_page": _form_s_next() if signing_in else request.full_path.rstrip("?"),
                "tried": signing_in, "signed_in": "caller" in g and not signing_in}
        answer = Response(render(name, told), problem["status"], content_type=HTML)
        answer.headers.extend(_FIELDS)
        return answer

    return as_page


def _is_for_a_page(app: Flask) -> bool:
    if request.endpoint is not None:
        return bool(getattr(app.view_functions[request.endpoint], "is_page", False))
    likes_html = "text/html" in request.headers.get("Accept", "")
    return likes_html and request.method in ("GET", "HEAD") and not request.path.startswith("/v1")


def _form_s_next() -> str:
    body: bytes = g.get("body", b"")
    return dict(parse_qsl(body.decode("utf-8", "replace"))).get("next", "/")
