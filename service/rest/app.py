"""The HTTP application, made from its parts. No globals, nothing looked up, nothing connected.

Order of every request: its id, the gate (key, allowance, scope, query parameters, codes), the view; then the header
fields that every answer carries, and those who watch. Whatever goes wrong on the way is answered as a problem document.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Protocol

import flask
from flask import Flask
from marshmallow import Schema

from service.rest.api_keys import Authenticate, guard
from service.rest.asked_again import asked_again
from service.rest.documentation import documentation
from service.rest.every_answer import accompany
from service.rest.health import Checks, health
from service.rest.known_paths import KnownPaths
from service.rest.openapi_layer.api import Api
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.document import LateDocument, finished_document
from service.rest.openapi_layer.examples import Examples
from service.rest.openapi_layer.webhooks import describe_webhooks
from service.rest.page_views import Page, page_views
from service.rest.pages.frame import Site
from service.rest.pages.problem_pages import problem_pages
from service.rest.pages.static_files import static_files
from service.rest.places import Places, share_places
from service.rest.problem_table import PROBLEMS, ProblemType
from service.rest.problems import AS_PAGE, answer_faults
from service.rest.rate_limits import tell_what_is_left
from service.rest.reading import AnswerJson
from service.rest.session_views import session_views
from service.rest.sessions import Sessions
from service.rest.watched import Watcher, tell_watchers
from service.use_cases.allowances import Allowances


class DocsPages(Protocol):
    """The documentation as finished bytes: HTML pages and their stylesheet."""

    @property
    def index(self) -> bytes: ...
    @property
    def problems(self) -> Mapping[str, bytes]: ...
    @property
    def versioning(self) -> bytes: ...
    @property
    def stylesheet(self) -> bytes: ...


MakeDocs = Callable[[Mapping[str, Any], Iterable[ProblemType]], DocsPages]
"""From the API document and the problem types to the pages; the page layer gives it, wiring passes it in."""


class _App(Flask):
    url_map_class = KnownPaths
    watchers: tuple[Watcher, ...] = ()

    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        """No view here is a coroutine; asking each of them at every request would cost a poll a tenth of its time."""
        return func

    def dispatch_request(self) -> Any:
        """As Flask does, and once more where the database undid what the view did."""
        return asked_again(super().dispatch_request, again=self._tell_again)

    def _tell_again(self) -> None:
        for watcher in self.watchers:
            watcher.asked_again()


def create_app(
    resources: Iterable[Blueprint], *, authenticate: Authenticate, sessions: Sessions, allowances: Allowances,
    readiness: Checks, make_docs: MakeDocs, prices_page: Page, site: Site,
    pages: flask.Blueprint | None = None, by_token: Authenticate | None = None,
    long_answers: Places | None = None,
    examples: Examples | None = None, messages: Mapping[str, type[Schema]] | None = None,
    unavailable: tuple[type[Exception], ...] = (), watchers: tuple[Watcher, ...] = (),
    concerns: Checks = dict,
) -> Flask:
    """The application.

    `by_token` reads an identity provider's tokens; `sessions` know who calls from a page; `allowances` count what
    each key asks; `readiness` names what must be well, each True or False, and `concerns` what an operator should look
    at all the same; `site` has the pages' templates and files, and `pages` their routes; `messages` are what webhooks
    are sent, by event; `unavailable` are the errors that mean that the ledger cannot be reached (503); `long_answers`
    are the places for what takes long; `watchers` are told of every answer.

    Raises:  UndecidedView when a view says neither who may call it nor that everybody may; ValueError for two views
             of one name.
    """
    app = _App("service.rest", static_folder=None)
    app.json = AnswerJson(app)
    app.config.update(PROPAGATE_EXCEPTIONS=False, TRAP_HTTP_EXCEPTIONS=False)
    app.url_map.strict_slashes, app.url_map.merge_slashes = True, False
    api = Api(app)
    for blueprint in (*resources, health(readiness, unavailable, concerns)):
        api.register_blueprint(blueprint)

    def described() -> dict[str, Any]:
        describe_webhooks(api, messages or {})
        return finished_document(app, api.describe(), examples or {})

    kinds = sorted(PROBLEMS.values(), key=lambda kind: (kind.status, kind.slug))
    document = app.extensions["seamcost-document"] = LateDocument(described)
    app.register_blueprint(documentation(document, lambda: make_docs(document(), kinds)))
    app.register_blueprint(session_views(sessions, home="/"))
    for views in (page_views("prices", prices_page), static_files(site.files), pages):
        if views is not None:
            app.register_blueprint(views)
    app.extensions[AS_PAGE] = problem_pages(app, site.render)
    answer_faults(app, unavailable)
    app.watchers = watchers
    tell_watchers(app, watchers)
    accompany(app)
    tell_what_is_left(app)
    share_places(app, long_answers or Places(2, 2))
    guard(app, authenticate, by_token, sessions.caller, allowances)
    return app
