"""The frame of the pages: a route's session, scope, position and document, made into HTML with a tag.

How to add a page, say the primals:

    use_cases/read_primals.py       one public function: from a snapshot to a document, plain dicts and published text
    rest/pages/primals.py           `def primals_page() -> PageOf`: its name, path, `read(asked) -> document`; it takes
                                    what else it needs (a timeline, sales) as arguments; a query schema of its own
                                    derives from PositionQuery, so that as_of and known_at go with every page
    rest/pages/every_page.py        a line in `every_page`
    web/templates/primals.html      `{% extends "layout.html" %}`, blocks `title` and `main`, `scripts` where it has
                                    any; the document's members are the template's variables
    web/templates/nav.html          its line, if it stands in the navigation
    web/static/style/primals.css    its section of the one stylesheet, its classes below `.primals` (the main's class is
                                    the page's name)
    web/static/primals/*.js         its scripts, ES modules, served as /static/primals/<file>
    tests/web/test_primals_page.py

A page that is refused (no session, no scope, no such record, no ledger) is a page too: raise the fault and nothing
else. A page that changes something asks the API with `Seamcost-Page-Token` (static/frame/api.js).

Rules that always hold: a page is a function of its position and its query, the same for everybody who may read it (who
that is, a script asks of /session); its tag says the position and the hash of its bytes; empty parameters, as forms
send them, count as not given; nothing is inline, and no text becomes markup.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import flask
import marshmallow as ma
from flask import Response, request

from service.domain.errors import Refused
from service.rest.api_keys import needs
from service.rest.conditional import CACHE_CONTROL, Prebuilt, prebuilt_answer
from service.rest.costs_media import prebuilt
from service.rest.finished_files import HTML
from service.rest.openapi_layer.schemas import Query
from service.rest.page_views import PAGE_FIELDS
from service.rest.position import Positions
from service.rest.query_faults import faults_of_values
from service.rest.schemas.records import PositionQuery
from service.rest.sentences import faults_of
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

Render = Callable[[str, Mapping[str, Any]], bytes]
"""From a template's name and its document to the page; the page layer gives it, wiring passes it in."""

FIELDS = (*PAGE_FIELDS, ("Cache-Control", CACHE_CONTROL), ("Vary", "Cookie, Authorization, Accept-Encoding"))


class Site(Protocol):
    """What the page layer gives: pages by template, and the files that they load, by their path below /static."""

    @property
    def render(self) -> Render: ...
    @property
    def files(self) -> Mapping[str, bytes]: ...


@dataclass(frozen=True, slots=True)
class Asked:
    """What a request for a page asks: figures of a position, its query, and the code in its path, where it has one."""

    snapshot: Snapshot
    query: Mapping[str, Any]
    code: str


@dataclass(frozen=True, slots=True)
class PageOf:
    """A page: its name is that of its template and endpoint.

    `of_figures`: its document is a function of the snapshot alone, so that its bytes may be kept with it.
    """

    name: str
    path: str
    read: Callable[[Asked], Document]
    query: type[Query] = PositionQuery
    scope: str = "read"
    of_figures: bool = True


def site_pages(pages: list[PageOf], render: Render, positions: Positions) -> flask.Blueprint:
    """The routes of the pages."""
    blueprint = flask.Blueprint("pages", "service.rest")
    for page in pages:
        blueprint.add_url_rule(page.path, page.name, _view(page, render, positions), methods=["GET"])
    return blueprint


def _view(page: PageOf, render: Render, positions: Positions) -> Callable[..., Response]:
    schema = page.query()

    @needs(page.scope)
    def read_page(code: str = "") -> Response:
        query = _query(schema)
        asked = Asked(positions.snapshot(positions.asked(query)), query, code)
        return prebuilt_answer(_answer(page, asked, render, positions), request)

    read_page.parameters = dict.fromkeys(schema.fields, False)  # type: ignore[attr-defined]
    read_page.faults_of_values = lambda given: faults_of_values(schema, _filled(given))  # type: ignore[attr-defined]
    read_page.is_page = True  # type: ignore[attr-defined]
    return read_page


def _answer(page: PageOf, asked: Asked, render: Render, positions: Positions) -> Prebuilt:
    def made() -> Prebuilt:
        position = asked.snapshot.position
        document = {"as_of": position.day.isoformat(), "revision": position.revision, "path": request.path,
                    "at": _at(asked.query)} | page.read(asked)
        return prebuilt(position, page.name, render(page.name, document), HTML, FIELDS)

    today = positions.ledger.today()
    if page.of_figures and not asked.code and asked.snapshot.position.day == today and not asked.query:
        return asked.snapshot.kept(("page", page.name), made)
    return made()


def _at(query: Mapping[str, Any]) -> str:
    """What a link to another page of the same position ends in; nothing where it is that of today."""
    asked = [f"{name}={query[name]}" for name in ("as_of", "known_at") if name in query]
    return f"?{'&'.join(asked)}" if asked else ""


def _filled(given: Mapping[str, str]) -> Mapping[str, str]:
    """A field that a form left empty is not given."""
    return {name: value for name, value in given.items() if value.strip()}


def _query(schema: ma.Schema) -> Mapping[str, Any]:
    """The query.

    Raises:  Refused.
    """
    try:
        loaded: Mapping[str, Any] = schema.load(_filled(request.args))
    except ma.ValidationError as error:
        raise Refused(list(faults_of(error.normalized_messages(), "query"))) from None
    return loaded
