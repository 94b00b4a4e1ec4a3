"""Health: does the process answer, and can it do its work. Open, never stored, and without detail to the outside.

What is not well is told in the log when it changes, and check by check in the metrics.

Source: the shape (status pass or fail) of the lapsed health-check draft, which orchestrators' users know. Its third
word, warn, is not used: who knows two of them would take it for a failure.
"""

import logging
from collections.abc import Callable, Mapping
from typing import ClassVar

from flask import Response, json

from service.rest.api_keys import open_to_all
from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.schemas import Answer

MEDIA_TYPE = "application/health+json"
STARTING = "snapshot"
"""The one check that is told to the outside: who watches a start should not take it for a fault."""
Checks = Callable[[], Mapping[str, bool]]
"""Names of checks, each True when well."""
_LOG = logging.getLogger("seamcost.health")


class Health(Answer):
    """Whether all is well."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("worth_a_look", "starting")

    status = OneOf(("pass", "fail"), metadata=says("pass: requests are answered; fail: they are not."))
    worth_a_look = Flag(metadata=says("There, and true, while requests are answered and the operator should look."))
    starting = Flag(metadata=says("There, and true, while a service that starts reads the ledger for the first time."))


def health(readiness: Checks, unavailable: tuple[type[Exception], ...] = (), concerns: Checks = dict) -> Blueprint:
    """`/health/live` touches nothing; `/health/ready` asks `readiness`, and answers 503 when something is not well.

    `unavailable` are the errors that mean so too; what `concerns` finds is a warning, and no reason to send requests
    elsewhere.
    """
    told = _Told()
    blueprint = Blueprint("health", "Whether the service is up and ready.", url_prefix="/health")

    @blueprint.get("/live")
    @open_to_all
    @blueprint.response(200, Health, content_type=MEDIA_TYPE)
    def check_live() -> Response:
        """Ask whether the process answers.

        Touches nothing else: for what restarts a process that hangs.
        """
        return _answer("pass")

    @blueprint.get("/ready")
    @open_to_all
    @blueprint.response(200, Health, content_type=MEDIA_TYPE)
    @blueprint.alt_response(503, schema=Health, content_type=MEDIA_TYPE, description="Service Unavailable")
    def check_ready() -> Response:
        """Ask whether the service can do its work.

        503 while the database cannot be reached or is not migrated: for what sends requests only to who can answer.
        `starting`, with 503, until every worker has read the ledger once: of a large menu that takes a minute.
        `worth_a_look`, with 200, while webhooks are late, the disk fills, or something else needs a look.
        """
        unwell, worth_a_look = _unwell(readiness, unavailable), ()
        if not unwell:
            worth_a_look = _unwell(concerns, unavailable)
        told.tell(unwell, worth_a_look)
        return _answer("fail" if unwell else "pass", worth_a_look=bool(worth_a_look), starting=unwell == (STARTING,))

    return blueprint


class _Told:
    """Tells the log when something changed: a probe comes every few seconds."""

    def __init__(self) -> None:
        self._last: tuple[tuple[str, ...], ...] = ((), ())

    def tell(self, unwell: tuple[str, ...], worth_a_look: tuple[str, ...]) -> None:
        last, self._last = self._last, (unwell, worth_a_look)
        if last == self._last:
            return
        if unwell:
            _LOG.warning("not ready: %s", ", ".join(unwell))
        elif worth_a_look:
            _LOG.warning("ready, but to be looked at: %s", ", ".join(worth_a_look))
        else:
            _LOG.warning("well again")


def _unwell(checks: Checks, unavailable: tuple[type[Exception], ...]) -> tuple[str, ...]:
    try:
        return tuple(sorted(name for name, well in checks().items() if not well))
    except unavailable as error:
        return (str(error),)


def _answer(status: str, **more: bool) -> Response:
    told = {"status": status} | {name: True for name, holds in more.items() if holds}
    return Response(json.dumps(told), 503 if status == "fail" else 200, content_type=MEDIA_TYPE)
